// What is asked of a record about Subscriptions, one request a call. Answers come on the executor; none: there was no answer.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "fhir_read/intake.h"
#include "fhir_read/subscription_brief.h"
#include "json/tree.h"
#include "transport/network.h"

namespace app {

/// Sends to the record and answers on the executor; the URL is whole.
using RecordSend = std::function<void(transport::OutgoingRequest, std::function<void(const transport::Response*)>)>;

struct SeenSubscription {
  fhir_read::SubscriptionBrief brief;
  json::Value body;
};

class SubscriptionCalls {
 public:
  /// `rebase`: as in RecordSearch.
  SubscriptionCalls(RecordSend send, std::string base_url, bool rebase, std::chrono::milliseconds timeout) : send_(std::move(send)), base_url_(std::move(base_url)), rebase_(rebase), timeout_(timeout) {}

  struct Ability {
    fhir_read::SubscriptionAbility record;
    std::string date;  ///< Date header: the record's clock
  };
  void ability(std::function<void(std::optional<Ability>)> then);

  struct List {
    std::vector<SeenSubscription> all;
    bool whole = false;    ///< every page was answered
    bool refused = false;  ///< the record does not let us search: nothing may be concluded from what is not there
    std::string date;
  };
  /// Those that carry the tag; where the record cannot search for it, all, of which the tag is then looked at here.
  void list(const std::string& tag, std::function<void(List)> then);

  /// One by its id. The status is that of the answer: 404 and 410 say that it is gone.
  void read(const std::string& id, std::function<void(int status, std::optional<SeenSubscription>)> then);

  struct Written {
    int status = 0;        ///< 0: no answer, it may have been done
    std::string id, state; ///< of the Subscription as answered; empty: not said
    bool arrived = true;   ///< false: surely nothing left us
  };
  void create(const json::Value& subscription, std::function<void(Written)> then);
  /// Fenced by the version where one is known.
  void update(const json::Value& subscription, const std::string& version, std::function<void(Written)> then);
  /// DELETE, and where that is not allowed, status off.
  void remove(SeenSubscription seen, std::function<void(bool gone)> then);

  /// Topic forms: how far each has counted. By one call for all where the record can; none for those that it cannot say.
  void statuses(const std::vector<std::string>& ids, std::function<void(std::vector<fhir_read::Notice>)> then);
  /// Topic forms: events first..last, both inclusive, as a notification Bundle. none: not supported, or no answer now (`refused` tells).
  void events(const std::string& id, std::int64_t first, std::int64_t last, std::function<void(std::optional<json::Value>, bool refused)> then);
  bool can_fetch_events() const { return !no_events_; }

 private:
  void add_topics(Ability ability, std::function<void(std::optional<Ability>)> then);
  void get(const std::string& path, std::function<void(const transport::Response*)> then);
  void write(const char* method, const std::string& path, const json::Value& body, const std::string& version, std::function<void(Written)> then);
  void page(const std::string& path, std::shared_ptr<List> list, int pages, std::function<void(List)> then);
  void status_of_next(std::shared_ptr<std::vector<std::string>> ids, std::shared_ptr<std::vector<fhir_read::Notice>> found, std::function<void(std::vector<fhir_read::Notice>)> then);

  RecordSend send_;
  std::string base_url_;
  bool rebase_;
  std::chrono::milliseconds timeout_;
  bool no_tag_ = false, no_type_status_ = false, no_status_ = false, no_events_ = false;  ///< found out by being refused, once a run
};

}  // namespace app
