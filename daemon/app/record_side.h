// What the engine asks of a record system beyond handing writes out: who the patient is now, what became of a write, what others wrote.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "app/deliver.h"
#include "app/log.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/take_event.h"
#include "json/tree.h"
#include "store/store.h"
#include "transport/network.h"

namespace app {

class RecordSide {
 public:
  RecordSide(store::Store&, Executor&, transport::Network&, const Rules&, Log&);

  /// Re-reads the Patient without cache. Held: not found, other identifiers, inactive, merged away, deceased, test data against the configured purpose.
  void check_patient(const store::Write&, std::function<void(Leave)> then);
  /// Server ids and versions of what the record confirmed; the items that waited for this answer now stand.
  store::Result<void> take_answer(store::Store&, const store::Write&, const transport::Response&);
  /// Whether a write without an answer is in the record. none: it could not be asked.
  void look_up(const store::Write&, std::function<void(std::optional<bool> applied, transport::Response as_answered)> then);
  /// CarePlan and open Tasks of the case as the record has them, as events.
  void read_again(const std::string& case_key, std::function<void(std::vector<store::NewEvent>)> then);
  /// An event about something of ours: in the version we confirmed it is no news; in another version somebody has touched it.
  store::Result<void> recognise(store::Store&, const store::Event&, Taken&);

 private:
  void get(const std::string& path, std::function<void(std::optional<transport::Response>)> then);
  void look_up_next(std::shared_ptr<struct LookUpState>);
  std::string patient_fault(const json::Value& patient, const store::Case&) const;
  store::Result<void> take_shell(store::Store&, const store::Write&, const transport::Response&);
  store::Result<void> put_confirmed(store::Store&, store::Item, const std::string& version);
  store::Result<void> touched(store::Store&, store::Item, const json::Value& resource);

  store::Store& store_;
  Executor& executor_;
  transport::Network& network_;
  const Rules& rules_;
  Log& log_;
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
