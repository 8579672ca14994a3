// Tasks and CarePlans of ours, and what belongs to them, for a record that takes none: kept in the store and answered as a FHIR server answers. To the
// rest of the daemon this is the record as far as these types go; to everybody else it is a list of work that can be read, and Tasks that can be changed.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "app/rules.h"
#include "app/seams.h"
#include "json/tree.h"
#include "store/store.h"
#include "transport/http_message.h"

namespace app {

/// Under which these stand in store::CurrentFact::source; no sender can have this name.
inline constexpr std::string_view kServedSource = "/served";
/// The same of all that would stand in a record that nothing is sent to (record.mode = shadow): kept apart, and served to nobody.
inline constexpr std::string_view kShadowSource = "/shadow";

/// CarePlan, DetectedIssue, GuidanceResponse, Provenance, Task.
const std::vector<std::string>& served_types();
bool is_served_type(std::string_view type);

/// A request below a FHIR base: "Task/7", "Task?patient=a", "" for the base itself.
struct ServedRequest {
  std::string method, path;
  transport::Headers headers;
  std::string body;
  std::string base;  ///< of this server, for links; no slash at the end
};

class Served {
 public:
  /// `source`: kServedSource, or kShadowSource: then every type is kept.
  Served(store::Store& store, PlanClock& clock, std::string_view source = kServedSource) : store_(store), clock_(clock), source_(source) {}

  /// Our own writing: create (If-None-Exist), update and transaction under If-Match, read, search.
  transport::Response as_record(const ServedRequest&);
  /// Everybody else: read, search, and the update of a Task under If-Match. `changed`: an event was journalled with it, in one commit.
  transport::Response to_others(const ServedRequest&, bool& changed);
  /// An item of ours as it is from now on, its row with it. Inside the given store transaction.
  store::Result<void> keep(store::Store&, store::Item);
  bool holds(std::string_view type, std::string_view id);
  /// Everything of a case goes: reading it answers 410 from then on. Inside the given store transaction.
  store::Result<void> remove(store::Store&, const std::string& case_key);
  /// Everything of every case goes. Inside the given store transaction.
  store::Result<void> remove_all(store::Store&);
  /// All that stands, a resource a line, by type and id.
  store::Result<std::string> as_lines();

 private:
  struct Fault {
    int status;
    std::string type, text;
  };
  struct Put {
    std::string location, etag, identity;
    json::Value resource;
    bool created = false;
  };
  transport::Response read(const std::string& type, const std::string& id);
  transport::Response search(const std::string& type, const std::string& query, const std::string& base);
  transport::Response create(const ServedRequest&, const std::string& type);
  transport::Response update(const ServedRequest&, const std::string& type, const std::string& id);
  transport::Response transaction(const ServedRequest&);
  transport::Response change_task(const ServedRequest&, const std::string& id, bool& changed);
  store::Result<Put> put(store::Store&, json::Value resource, const std::string& type, const std::string& id, std::int64_t version);
  store::Result<Put> entry(store::Store&, const json::Value& entry, Fault&);
  store::Result<std::vector<store::CurrentFact>> of_type(const std::string& type, const std::string& patient);
  store::Result<std::optional<store::CurrentFact>> by_identity(const std::string& type, const std::string& identity);

  store::Store& store_;
  PlanClock& clock_;
  std::string_view source_;
};

}  // namespace app
