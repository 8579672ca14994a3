#pragma once

#include <array>

#include "store/sqlite_db.h"
#include "store/sqlite_store.h"

namespace store {

// SQLite behind the interface. The bodies stand by table group: sqlite_journal, sqlite_facts, sqlite_cases, sqlite_outbox, sqlite_outbox_moves,
// sqlite_prints, sqlite_subscriptions, sqlite_ledgers, sqlite_kept, sqlite_keeping; opening in sqlite_open.
class SqliteStore final : public Store {
 public:
  SqliteStore(std::unique_ptr<Db> db, SqliteOptions options);

  Result<void> transaction(Millis now, const Unit& fn) override;

  Result<std::vector<EventId>> append(std::span<const NewEvent> events) override;
  Result<std::optional<Event>> event(EventId id) override;
  Result<std::vector<Event>> pending_events(std::size_t limit, EventId after) override;
  Result<std::optional<Millis>> oldest_pending_event() override;
  Result<void> settle_event(EventId id, EventState to, std::string_view reason, Millis now, Mark mark) override;

  Result<void> put_current(const CurrentFact& fact, std::span<const std::string> refers_to) override;
  Result<std::optional<CurrentFact>> current(std::string_view source, std::string_view type, std::string_view id) override;
  Result<std::vector<CurrentFact>> current_of_patient(std::string_view source, std::string_view patient) override;
  Result<std::vector<CurrentFact>> current_of_type(std::string_view source, std::string_view type, std::size_t limit,
                                                   std::string_view after_id) override;
  Result<std::vector<FactKey>> referrers(std::string_view source, std::string_view target) override;

  Result<void> put_case(const Case& row) override;
  Result<std::optional<Case>> case_of(std::string_view key) override;
  Result<std::vector<Case>> cases_of_patient(std::string_view source, std::string_view patient) override;
  Result<std::vector<std::string>> open_case_keys() override;
  Result<std::vector<std::string>> case_keys(std::size_t limit, std::size_t offset) override;
  Result<std::vector<std::string>> due_case_keys(Millis now, std::size_t limit) override;
  Result<std::optional<Millis>> next_wake() override;

  Result<void> put_item(const Item& item) override;
  Result<std::optional<Item>> item(std::string_view identity) override;
  Result<std::vector<Item>> items_of_case(std::string_view case_key) override;
  Result<void> drop_items_of_case(std::string_view case_key) override;
  Result<std::optional<Item>> item_by_server_id(std::string_view type, std::string_view server_id) override;

  Result<WriteTicket> queue_write(const NewWrite& write) override;
  Result<std::optional<Write>> write(WriteId id) override;
  Result<std::vector<Write>> writes_of_case(std::string_view case_key) override;
  Result<std::vector<Write>> unsettled_of_case(std::string_view case_key) override;
  Result<std::vector<Write>> next_deliverable(Millis now, std::size_t limit) override;
  Result<std::optional<Millis>> next_attempt() override;
  Result<std::optional<Millis>> oldest_pending_write() override;
  Result<void> mark_sent(WriteId id, Millis now) override;
  Result<void> mark_delivered(WriteId id, std::string_view response, Millis now) override;
  Result<void> retry_later(WriteId id, Millis next_attempt_at, std::string_view error, Effect effect, Millis now) override;
  Result<void> verified_absent(WriteId id, Millis next_attempt_at, Millis now) override;
  Result<void> hold_write(WriteId id, std::string_view reason, Millis now) override;
  Result<void> release_write(WriteId id, Millis now) override;
  Result<std::int64_t> supersede_unsent(std::string_view case_key, std::string_view reason, Millis now) override;
  Result<void> supersede_write(WriteId id, std::string_view reason, Millis now) override;
  Result<void> kill_write(WriteId id, std::string_view reason, Millis now) override;
  Result<std::int64_t> recover_interrupted(Millis now) override;

  Result<PrintId> order_print(const NewPrint& order) override;
  Result<std::vector<PrintOrder>> open_prints() override;
  Result<std::vector<PrintOrder>> prints_of_case(std::string_view case_key) override;
  Result<std::optional<PrintOrder>> print_order(PrintId id) override;
  Result<void> print_sending(PrintId id, std::string_view printer, std::string_view job_name, Millis real, Millis now) override;
  Result<void> print_sent(PrintId id, std::int64_t job, Millis now) override;
  Result<void> print_again(PrintId id, std::string_view reason, Millis now) override;
  Result<void> print_done(PrintId id, Millis now) override;
  Result<void> print_drop(PrintId id, std::string_view reason, Millis now) override;
  Result<void> print_by_hand(PrintId id, Millis now) override;
  Result<void> print_ask(PrintId id, std::string_view ask, bool give_up, std::string_view reason, Millis now) override;
  Result<std::int64_t> doubt_prints(Millis now) override;
  Result<PrintCounts> print_counts() override;

  Result<void> put_subscription(const Subscription& row, Millis now) override;
  Result<void> drop_subscription(std::string_view name, Millis now) override;
  Result<std::optional<Subscription>> subscription(std::string_view name) override;
  Result<std::vector<Subscription>> subscriptions() override;

  Result<bool> do_once(std::string_view case_key, std::string_view cause, Millis now) override;
  Result<std::int64_t> add_evaluation(const Evaluation& evaluation) override;
  Result<std::vector<Evaluation>> evaluations(std::string_view case_key, std::size_t limit, std::int64_t after) override;
  Result<std::int64_t> quarantine(const Quarantined& entry) override;
  Result<std::vector<Quarantined>> quarantined(std::size_t limit, std::size_t offset) override;
  Result<QuarantineCounts> quarantine_counts() override;
  Result<std::optional<std::string>> meta(std::string_view key) override;
  Result<void> set_meta(std::string_view key, std::string_view value) override;
  Result<std::string> meta_once(std::string_view key, std::string_view value) override;
  Result<std::optional<Millis>> last_clock_reading() override;

  Result<EventLedger> event_ledger() override;
  Result<WriteLedger> write_ledger(bool shadow) override;
  Result<std::vector<Event>> list_events(std::optional<EventState> state, std::size_t limit, std::size_t offset) override;
  Result<std::vector<Write>> list_writes(std::optional<WriteState> state, std::size_t limit, std::size_t offset) override;
  Result<void> retry_event(EventId id, std::string_view reason, Millis now) override;
  Result<void> discard_event(EventId id, std::string_view reason, Millis now) override;
  Result<void> retry_write(WriteId id, std::string_view reason, Millis now) override;
  Result<void> discard_write(WriteId id, std::string_view reason, Millis now) override;
  Result<void> verify_ledgers() override;

  Result<void> put_blob(std::string_view sha256, std::string_view content) override;
  Result<std::optional<std::string>> blob(std::string_view sha256) override;

  Result<void> checkpoint() override;
  Result<void> backup_to(const std::string& path) override;
  Result<void> verify() override;
  [[nodiscard]] std::optional<Error> failure() const override;
  Result<void> close() override;

 private:
  // One UPDATE (?1 is the id, then args) that moves an item between states. No row changed means that it is unknown or in the wrong state: `logic`,
  // saying so.
  template <class... Args>
  Result<void> move(std::string_view table, std::int64_t id, std::string_view what, Millis now, std::string_view sql, const Args&... args);
  Error refused(std::string_view table, std::int64_t id, std::string_view what);
  Result<void> make_room_in_quarantine();
  Result<void> recount(std::string_view ledger, std::string_view rows_sql);

  std::unique_ptr<Db> db_;
  SqliteOptions options_;
};

// A limit or offset as SQLite takes it.
std::int64_t bounded(std::size_t count);

// The words of the tables, in the order of the enumerations in event.h and write.h.
inline constexpr std::array<std::string_view, 4> kEventStates{"pending", "applied", "irrelevant", "dead"};
inline constexpr std::array<std::string_view, 3> kMarks{"", "quarantined", "discarded"};
inline constexpr std::array<std::string_view, 3> kWriteKinds{"transaction", "single", "file"};
inline constexpr std::array<std::string_view, 7> kWriteStates{"queued", "sent", "verify", "held", "delivered", "superseded", "dead"};

template <class E, std::size_t N>
std::string_view word(const std::array<std::string_view, N>& words, E value) {
  return words.at(static_cast<std::size_t>(value));
}

// What a journal or outbox query selects, with or without bodies, and how its row is read.
std::string event_query(bool with_body, std::string_view rest);
std::string write_query(bool with_body, std::string_view rest);
Event read_event(Row& row);
Write read_write(Row& row);

template <class... Args>
Result<void> SqliteStore::move(std::string_view table, std::int64_t id, std::string_view what, Millis now, std::string_view sql,
                               const Args&... args) {
  return db_->unit(now, [&]() -> Result<void> {
    const auto moved = db_->run(sql, id, args...);
    if (!moved) return moved.error();
    return *moved == 1 ? Result<void>() : Result<void>(refused(table, id, what));
  });
}

}  // namespace store
