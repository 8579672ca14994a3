// Hands a transaction to a record that takes none: one write after the other, each fenced by its own version, each answer looked at before the next.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "app/seams.h"
#include "fhir_write/steps.h"
#include "store/store.h"
#include "transport/network.h"

namespace app {

struct StepsEnd {
  enum class Kind {
    done,      ///< all of it stands; `response` is what a transaction would have been answered
    conflict,  ///< somebody else has written: a version was another one, or what was to be changed is gone
    refused,   ///< the record will not take a step, whatever is tried: `response` is its answer
    put_off    ///< no answer, or one that says later: to be tried again
  } kind = Kind::done;
  transport::Response response;
  std::string why;
  bool changed = false;                  ///< some of it stands in the record, or may
  std::chrono::seconds at_least{0};      ///< of put_off: how long the record wants to be left alone
};

struct StepsOptions {
  /// If-Match and If-None-Exist are sent. False: what is to be changed is read before, and its version compared here; what is new is looked for before.
  bool conditions = true;
  /// How a new item is looked for: calls back with what stands, null where nothing does, none where the record could not be asked. Empty: by its identifier.
  std::function<void(const fhir_write::SingleWrite&, std::function<void(std::optional<json::Value>)>)> find = {};
  /// Types that stand on our own server: what goes to the record names them by identifier.
  std::vector<std::string> elsewhere = {};
  /// This installation: what another one has written under our identity ends the write as refused. Empty: nobody asks.
  std::string writer = {};
};

class StepWriter {
 public:
  StepWriter(Executor&, transport::Network&, std::string base_url, std::chrono::milliseconds timeout);

  /// `then` on the executor, once.
  void write(const store::Write&, StepsOptions, std::function<void(StepsEnd)> then);

 private:
  struct Run;
  using Answer = std::function<void(const transport::Outcome&)>;
  void ask(transport::OutgoingRequest, Answer);
  void begin(const std::shared_ptr<Run>&);
  void next(const std::shared_ptr<Run>&);
  void look_before(const std::shared_ptr<Run>&);
  void find(const std::shared_ptr<Run>&, std::function<void(std::optional<json::Value>)>);
  static bool another_writes(const std::shared_ptr<Run>&, const json::Value& stands);
  void read_before(const std::shared_ptr<Run>&);
  void look_whether_ours(const std::shared_ptr<Run>&, const transport::Response& refusal, const std::string& why);
  void look_for_tag(const std::shared_ptr<Run>&);
  void look_for_file(const std::shared_ptr<Run>&);
  void put_file(const std::shared_ptr<Run>&, const std::string& if_match);
  void send(const std::shared_ptr<Run>&);
  void answered(const std::shared_ptr<Run>&, const transport::Response&);
  void look_after(const std::shared_ptr<Run>&);

  Executor& executor_;
  transport::Network& network_;
  std::string base_url_;
  std::chrono::milliseconds timeout_;
  bool names_refused_ = false;  ///< the record lets no client choose an id
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
