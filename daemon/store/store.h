#pragma once

#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "store/case.h"
#include "store/error.h"
#include "store/event.h"
#include "store/fact.h"
#include "store/ledger.h"
#include "store/print.h"
#include "store/subscription.h"
#include "store/write.h"

namespace store {

// The durable heart: journal, current facts, cases with what was written for them, outbox, ledgers. It holds text and does not know what it means.
//
// One thread at a time; the caller serialises. Every changing call is one unit: on success it is on disk when the call returns, on error nothing
// has changed. Inside transaction() it becomes durable with the whole. After `io_fatal` or `corrupt` the store has failed: every later call returns
// `io_fatal`; stop, open anew, look.
// Every `now` given with a change is remembered as the last clock reading (the greatest so far), in the same commit.
// Lists: `limit` is a count, rows come in the stated order, an empty vector means none. A list that says "without bodies" leaves `body` and
// `response` empty.
class Store {
 public:
  virtual ~Store() = default;

  // Runs fn as one unit: all of it commits together or nothing does. An error returned by fn rolls back and is returned; so does an exception, which
  // is rethrown. Inside another transaction it is a part of that one: its own error undoes its own part only, and the outer fn decides.
  using Unit = std::function<Result<void>(Store&)>;
  virtual Result<void> transaction(Millis now, const Unit& fn) = 0;

  // --- journal
  // All of them or none. Ids in the order given. Empty input: empty answer, no commit.
  virtual Result<std::vector<EventId>> append(std::span<const NewEvent> events) = 0;
  virtual Result<std::optional<Event>> event(EventId id) = 0;
  // Oldest first, ids greater than `after`.
  virtual Result<std::vector<Event>> pending_events(std::size_t limit, EventId after = 0) = 0;
  virtual Result<std::optional<Millis>> oldest_pending_event() = 0;  // its received_at
  // Pending -> applied, irrelevant or dead. `mark` other than none only with dead. Any other change is `logic`.
  virtual Result<void> settle_event(EventId id, EventState to, std::string_view reason, Millis now, Mark mark = Mark::none) = 0;

  // --- current facts
  // Replaces the version held, whatever it was: which one is newer is for the caller to know. `refers_to` holds "Type/id", also replaced.
  virtual Result<void> put_current(const CurrentFact& fact, std::span<const std::string> refers_to) = 0;
  virtual Result<std::optional<CurrentFact>> current(std::string_view source, std::string_view type, std::string_view id) = 0;
  // Not the tombstones. By type, id.
  virtual Result<std::vector<CurrentFact>> current_of_patient(std::string_view source, std::string_view patient) = 0;
  // Not the tombstones. By id, ids greater than `after_id`.
  virtual Result<std::vector<CurrentFact>> current_of_type(std::string_view source, std::string_view type, std::size_t limit,
                                                           std::string_view after_id = "") = 0;
  // Who refers to "Medication/m1"? By type, id.
  virtual Result<std::vector<FactKey>> referrers(std::string_view source, std::string_view target) = 0;

  // --- cases
  virtual Result<void> put_case(const Case& row) = 0;  // new or replaced
  virtual Result<std::optional<Case>> case_of(std::string_view key) = 0;
  virtual Result<std::vector<Case>> cases_of_patient(std::string_view source, std::string_view patient) = 0;  // by key
  virtual Result<std::vector<std::string>> open_case_keys() = 0;                                              // by key
  virtual Result<std::vector<std::string>> case_keys(std::size_t limit, std::size_t offset = 0) = 0;          // by key
  // wake_at <= now, earliest first, open or not.
  virtual Result<std::vector<std::string>> due_case_keys(Millis now, std::size_t limit) = 0;
  virtual Result<std::optional<Millis>> next_wake() = 0;  // earliest wake_at; may lie in the past

  // --- items
  virtual Result<void> put_item(const Item& item) = 0;  // new or replaced
  virtual Result<std::optional<Item>> item(std::string_view identity) = 0;
  virtual Result<std::vector<Item>> items_of_case(std::string_view case_key) = 0;  // by type, step, ordinal, identity
  virtual Result<void> drop_items_of_case(std::string_view case_key) = 0;          // none is known to stand any more
  virtual Result<std::optional<Item>> item_by_server_id(std::string_view type, std::string_view server_id) = 0;

  // --- outbox
  virtual Result<WriteTicket> queue_write(const NewWrite& write) = 0;
  virtual Result<std::optional<Write>> write(WriteId id) = 0;
  virtual Result<std::vector<Write>> writes_of_case(std::string_view case_key) = 0;     // by sequence, without bodies
  virtual Result<std::vector<Write>> unsettled_of_case(std::string_view case_key) = 0;  // queued, sent, verify, held; by sequence
  // At most one write a case: its lowest unsettled n, when that one is queued or verify and next_attempt_at <= now. A case with a write in state sent
  // or held gives none. A write in state verify is to be looked up at the server first. By next_attempt_at, id. No shadow writes.
  virtual Result<std::vector<Write>> next_deliverable(Millis now, std::size_t limit) = 0;
  // Earliest next_attempt_at among the writes that next_deliverable could give at some time.
  virtual Result<std::optional<Millis>> next_attempt() = 0;
  virtual Result<std::optional<Millis>> oldest_pending_write() = 0;  // created_at; held ones count, shadow ones do not
  // queued or verify -> sent; attempts + 1. To be durable before the first byte leaves.
  virtual Result<void> mark_sent(WriteId id, Millis now) = 0;
  // sent or verify -> delivered (a shadow write also from queued).
  virtual Result<void> mark_delivered(WriteId id, std::string_view response, Millis now) = 0;
  // queued, sent or verify -> queued or verify, not before next_attempt_at. Effect::unknown -> verify. Effect::none takes back what the last attempt
  // left open: where no earlier attempt is open the write is unsent again and becomes queued, else verify.
  virtual Result<void> retry_later(WriteId id, Millis next_attempt_at, std::string_view error, Effect effect, Millis now) = 0;
  // verify -> queued, unsent: the server was asked and none of the attempts had an effect.
  virtual Result<void> verified_absent(WriteId id, Millis next_attempt_at, Millis now) = 0;
  virtual Result<void> hold_write(WriteId id, std::string_view reason, Millis now) = 0;  // queued, sent or verify -> held
  virtual Result<void> release_write(WriteId id, Millis now) = 0;                        // held -> queued, or verify where an attempt is open
  // Every unsettled write of the case that certainly has not left (queued or held) -> superseded. Returns how many.
  virtual Result<std::int64_t> supersede_unsent(std::string_view case_key, std::string_view reason, Millis now) = 0;
  // queued, sent, verify or held -> superseded: the caller knows from a definite answer that it had and will have no effect.
  virtual Result<void> supersede_write(WriteId id, std::string_view reason, Millis now) = 0;
  virtual Result<void> kill_write(WriteId id, std::string_view reason, Millis now) = 0;  // any unsettled state -> dead
  // For the start after a stop: every write in state sent -> verify. Returns how many.
  virtual Result<std::int64_t> recover_interrupted(Millis now) = 0;

  // --- sheets to be printed
  // The newest of its case: orders that are at no printer are superseded, the others no longer wanted. The blob must be there, or come in this unit.
  virtual Result<PrintId> order_print(const NewPrint& order) = 0;
  virtual Result<std::vector<PrintOrder>> open_prints() = 0;  // all that have not ended; by id
  virtual Result<std::vector<PrintOrder>> prints_of_case(std::string_view case_key) = 0;  // by id
  virtual Result<std::optional<PrintOrder>> print_order(PrintId id) = 0;
  // queued and wanted -> sending. On disk before the first byte leaves.
  virtual Result<void> print_sending(PrintId id, std::string_view printer, std::string_view job_name, Millis real, Millis now) = 0;
  virtual Result<void> print_sent(PrintId id, std::int64_t job, Millis now) = 0;  // sending -> sent
  // Open -> queued, or superseded where it is no longer wanted: it is known that nothing came out and nothing will.
  virtual Result<void> print_again(PrintId id, std::string_view reason, Millis now) = 0;
  virtual Result<void> print_done(PrintId id, Millis now) = 0;     // sent -> printed
  virtual Result<void> print_drop(PrintId id, std::string_view reason, Millis now) = 0;  // queued -> superseded
  virtual Result<void> print_by_hand(PrintId id, Millis now) = 0;  // open or asked -> by_hand
  // A person is asked for the paper (nobody is for one that is not wanted). give_up: and no printer any more, -> asked or superseded.
  virtual Result<void> print_ask(PrintId id, std::string_view ask, bool give_up, std::string_view reason, Millis now) = 0;
  // For a store that is an older copy: what was queued may have gone out since. queued -> sending. Returns how many.
  virtual Result<std::int64_t> doubt_prints(Millis now) = 0;
  virtual Result<PrintCounts> print_counts() = 0;

  // --- our Subscriptions at the record
  virtual Result<void> put_subscription(const Subscription& row, Millis now) = 0;  // new or replaced
  virtual Result<void> drop_subscription(std::string_view name, Millis now) = 0;   // also where there is none
  virtual Result<std::optional<Subscription>> subscription(std::string_view name) = 0;
  virtual Result<std::vector<Subscription>> subscriptions() = 0;  // by subject, created_at, name

  // --- acts done once
  // True for the first call with this case and cause, false for ever after. Do the act when the transaction has committed.
  virtual Result<bool> do_once(std::string_view case_key, std::string_view cause, Millis now) = 0;

  // --- evaluations
  virtual Result<std::int64_t> add_evaluation(const Evaluation& evaluation) = 0;  // its `id` is not read
  // In order, ids greater than `after`. Empty case_key: of all cases.
  virtual Result<std::vector<Evaluation>> evaluations(std::string_view case_key, std::size_t limit, std::int64_t after = 0) = 0;

  // --- quarantine: bounded by count and bytes (given at opening); the oldest make room and are counted
  // Returns the id. A body over the byte bound is cut to it.
  virtual Result<std::int64_t> quarantine(const Quarantined& entry) = 0;                                // its `id` is not read
  virtual Result<std::vector<Quarantined>> quarantined(std::size_t limit, std::size_t offset = 0) = 0;  // newest first
  virtual Result<QuarantineCounts> quarantine_counts() = 0;

  // --- meta
  virtual Result<std::optional<std::string>> meta(std::string_view key) = 0;
  virtual Result<void> set_meta(std::string_view key, std::string_view value) = 0;
  // Stores the value only where the key has none; returns the one that stands (installation id, base_url as first stored).
  virtual Result<std::string> meta_once(std::string_view key, std::string_view value) = 0;
  virtual Result<std::optional<Millis>> last_clock_reading() = 0;

  // --- ledgers
  virtual Result<EventLedger> event_ledger() = 0;
  virtual Result<WriteLedger> write_ledger(bool shadow = false) = 0;
  // Newest first, without bodies. No state: all.
  virtual Result<std::vector<Event>> list_events(std::optional<EventState> state, std::size_t limit, std::size_t offset = 0) = 0;
  virtual Result<std::vector<Write>> list_writes(std::optional<WriteState> state, std::size_t limit, std::size_t offset = 0) = 0;
  virtual Result<void> retry_event(EventId id, std::string_view reason, Millis now) = 0;    // dead, not discarded -> pending
  virtual Result<void> discard_event(EventId id, std::string_view reason, Millis now) = 0;  // dead -> dead, marked discarded
  virtual Result<void> retry_write(WriteId id, std::string_view reason, Millis now) = 0;    // dead, not discarded -> queued or verify
  virtual Result<void> discard_write(WriteId id, std::string_view reason, Millis now) = 0;
  // Recounts both ledgers from the rows kept and compares with the totals; `corrupt` where they part.
  virtual Result<void> verify_ledgers() = 0;

  // --- blobs, by their SHA-256 in lower-case hex, computed by the caller
  virtual Result<void> put_blob(std::string_view sha256, std::string_view content) = 0;  // a second time changes nothing
  virtual Result<std::optional<std::string>> blob(std::string_view sha256) = 0;

  // --- keeping
  virtual Result<void> checkpoint() = 0;
  // A complete, checked copy, mode 0600. The file must not exist; on error none is left behind. Not inside a transaction. `full` where there is no
  // room for it, `logic` for anything else wrong with the copy: neither touches the store.
  virtual Result<void> backup_to(const std::string& path) = 0;
  virtual Result<void> verify() = 0;  // full check of the file; `corrupt` with the first finding
  // Why the store has failed; none while it is usable.
  [[nodiscard]] virtual std::optional<Error> failure() const = 0;
  // The last call; a failed store answers `io_fatal` and leaves its files as they are. The destructor closes too, but cannot tell.
  virtual Result<void> close() = 0;
};

}  // namespace store
