#include <fmt/format.h>

#include "store/sqlite_impl.h"

namespace store {

namespace {

// The heads: what could be delivered, but for its time. The terms on `state` and `shadow` are those of the indexes outbox_due and outbox_unsettled.
#define DELIVERABLE                                                                                                                     \
  "AS o WHERE o.state IN ('queued', 'verify') AND o.shadow = 0 AND NOT EXISTS (SELECT 1 FROM outbox AS e WHERE e.case_key = o.case_key" \
  " AND e.state IN ('queued', 'sent', 'verify', 'held') AND e.shadow = 0 AND (e.sequence < o.sequence OR e.state = 'sent')) "

Millis read_instant(Row& row) { return row.integer(); }

}  // namespace

std::string write_query(bool with_body, std::string_view rest) {
  return fmt::format(
      "SELECT id, case_key, sequence, kind, target, shadow, created_at, next_attempt_at, state, mark, attempts, open_attempts > 0,"
      " last_error, delivered_at, {} FROM outbox {}",
      with_body ? "response, body" : "'', ''", rest);
}

Write read_write(Row& row) {
  Write w;
  w.id = row.integer();
  w.case_key = row.text();
  w.sequence = row.integer();
  w.kind = row.word<WriteKind>(kWriteKinds);
  w.target = row.text();
  w.shadow = row.flag();
  w.created_at = row.integer();
  w.next_attempt_at = row.integer();
  w.state = row.word<WriteState>(kWriteStates);
  w.mark = row.word<Mark>(kMarks);
  w.attempts = row.integer();
  w.may_have_left = row.flag();
  w.last_error = row.text();
  w.delivered_at = row.integer();
  w.response = row.text();
  w.body = row.text();
  return w;
}

Result<WriteTicket> SqliteStore::queue_write(const NewWrite& w) {
  return db_->unit(w.created_at, [&]() -> Result<WriteTicket> {
    const auto added = db_->first(
        "INSERT INTO outbox (case_key, sequence, kind, target, shadow, created_at, next_attempt_at, body)"
        " VALUES (?1, (SELECT coalesce(max(sequence), 0) + 1 FROM outbox WHERE case_key = ?1), ?2, ?3, ?4, ?5, ?6, ?7) RETURNING id, sequence",
        [](Row& row) {
          WriteTicket ticket;
          ticket.id = row.integer();
          ticket.sequence = row.integer();
          return ticket;
        },
        w.case_key, word(kWriteKinds, w.kind), w.target, w.shadow, w.created_at, w.next_attempt_at, Blob{w.body});
    if (!added) return added.error();
    return **added;
  });
}

Result<std::optional<Write>> SqliteStore::write(WriteId id) {
  static const std::string sql = write_query(true, "WHERE id = ?");
  return db_->first(sql, read_write, id);
}

Result<std::vector<Write>> SqliteStore::writes_of_case(std::string_view case_key) {
  static const std::string sql = write_query(false, "WHERE case_key = ? ORDER BY sequence");
  return db_->all(sql, read_write, case_key);
}

Result<std::vector<Write>> SqliteStore::unsettled_of_case(std::string_view case_key) {
  static const std::string sql = write_query(true, "WHERE case_key = ? AND state IN ('queued', 'sent', 'verify', 'held') ORDER BY sequence");
  return db_->all(sql, read_write, case_key);
}

Result<std::vector<Write>> SqliteStore::next_deliverable(Millis now, std::size_t limit) {
  static const std::string sql = write_query(true, DELIVERABLE "AND o.next_attempt_at <= ? ORDER BY o.next_attempt_at, o.id LIMIT ?");
  return db_->all(sql, read_write, now, bounded(limit));
}

Result<std::optional<Millis>> SqliteStore::next_attempt() {
  return db_->first("SELECT o.next_attempt_at FROM outbox " DELIVERABLE "ORDER BY o.next_attempt_at, o.id LIMIT 1", read_instant);
}

Result<std::optional<Millis>> SqliteStore::oldest_pending_write() {
  return db_->first("SELECT created_at FROM outbox WHERE state IN ('queued', 'sent', 'verify', 'held') AND shadow = 0 ORDER BY created_at LIMIT 1",
                    read_instant);
}

}  // namespace store
