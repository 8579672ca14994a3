// What the engine asks of a record system beyond handing writes out: who the patient is now, what became of a write, what stands there.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "app/deliver.h"
#include "app/ours.h"
#include "app/record_search.h"
#include "app/rules.h"
#include "app/seams.h"
#include "fhir_write/lookup.h"
#include "json/tree.h"
#include "store/store.h"
#include "transport/network.h"

namespace app {

/// How this record can be written to without writing over anybody, as found out by trying, once a run.
enum class Rung {
  untried,
  transactions,   ///< a change is one fenced transaction
  single_writes,  ///< it takes no transactions, or overlooks ifMatch in them: one write after the other, each fenced by its own version
  none            ///< it overlooks versions altogether: nothing is written
};

class RecordSide {
 public:
  RecordSide(store::Store&, Executor&, transport::Network&, const Rules&, Ours&);

  /// Re-reads the Patient without cache. Held: not found, other identifiers than the case's, inactive, merged away, deceased, test data against the
  /// configured purpose. What only closes a case goes even so: it takes our own items back.
  void check_patient(const store::Write&, std::function<void(Leave)> then);
  /// Server ids and versions of what the record confirmed; the items that waited for this answer now stand.
  store::Result<void> take_answer(store::Store&, const store::Write&, const transport::Response&);
  /// Whether a write without an answer is in the record. none: it could not be asked.
  void look_up(const store::Write&, std::function<void(std::optional<bool> applied, transport::Response as_answered)> then);
  /// Everything of ours in the case as the record has it; `forgotten`: also what this store does not know.
  void read_again(const std::string& case_key, bool forgotten, SearchDone then);
  RecordGet getter();
  /// Why the last request without an answer got none; empty: none so far.
  const std::string& why_no_answer() const { return why_no_answer_; }
  /// Any request to the record; answered on the executor.
  std::function<void(transport::OutgoingRequest, std::function<void(const transport::Response*)>)> sender() {
    return [this](transport::OutgoingRequest request, std::function<void(const transport::Response*)> then) { send(std::move(request), std::move(then)); };
  }
  Rung rung() const { return rung_; }
  /// What that means and what it costs, for /status.
  std::string rung_text() const;
  /// A write with a DetectedIssue was refused: true, once, where from now on clashes of orders are to be served here.
  bool sets_clashes_aside(const store::Write&, const std::string& why);
  std::string part_text() const;
  void write_in_steps(const store::Write& write, std::function<void(StepsEnd)> then);
  /// Documents to a record that takes these only are always single writes.
  bool in_steps(const store::Write&) const;

 private:
  std::string rung_alone() const;
  void get(const std::string& path, std::function<void(const transport::Response*)> then);
  void look_up_next(std::shared_ptr<struct LookUpState>);
  void find_new(const fhir_write::Lookup&, const std::shared_ptr<struct LookUpState>&);
  void find_of_patient(const std::string& type, const std::string& identity, const std::string& patient, std::function<void(std::optional<json::Value>)> then);
  std::string asked_in_place_of(const std::string& path) const;
  std::optional<store::Item> item_to_try(const store::Case&) const;
  void try_transaction(const store::Case&, std::function<void(Leave)> then);
  void try_with(json::Value standing, const std::string& id, const std::string& etag, std::function<void(Leave)> then);
  void try_single_write(const json::Value& stale_bundle, const std::string& stands, std::function<void(Leave)> then);
  void see_whether_overlooked(const std::string& path, const std::string& etag, std::function<void(Leave)> then);
  void send(transport::OutgoingRequest, std::function<void(const transport::Response*)> then);
  Leave judge(const json::Value& patient, const transport::Response&, const store::Case&) const;
  store::Result<void> take_shell(store::Store&, const store::Write&, const transport::Response&);
  store::Result<void> put_confirmed(store::Store&, store::Item, const std::string& version, const json::Value& sent, const json::Value& stands);

  store::Store& store_;
  Executor& executor_;
  transport::Network& network_;
  const Rules& rules_;
  Ours& ours_;
  StepWriter steps_;
  Rung rung_ = Rung::untried;
  std::string why_no_transactions_, why_no_answer_, why_clashes_here_;
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
