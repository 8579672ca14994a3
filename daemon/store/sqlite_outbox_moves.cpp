#include "store/sqlite_impl.h"

// How a write goes from state to state. `open_attempts` counts the attempts that may still have an effect at the other end. A second term on `state`
// is that of the index outbox_unsettled, which SQLite then uses.
namespace store {

Result<void> SqliteStore::mark_sent(WriteId id, Millis now) {
  return move("outbox", id, "sent", now,
              "UPDATE outbox SET state = 'sent', attempts = attempts + 1, open_attempts = open_attempts + 1"
              " WHERE id = ?1 AND state IN ('queued', 'verify') AND shadow = 0");
}

Result<void> SqliteStore::mark_delivered(WriteId id, std::string_view response, Millis now) {
  return move("outbox", id, "delivered", now,
              "UPDATE outbox SET state = 'delivered', response = ?2, delivered_at = ?3"
              " WHERE id = ?1 AND (state IN ('sent', 'verify') OR (shadow = 1 AND state = 'queued'))",
              Blob{response}, now);
}

Result<void> SqliteStore::retry_later(WriteId id, Millis next_attempt_at, std::string_view error, Effect effect, Millis now) {
  return move("outbox", id, "put off", now,
              "UPDATE outbox SET next_attempt_at = ?2, last_error = ?3, open_attempts = open_attempts - iif(state = 'sent', ?4, 0),"
              " state = iif(open_attempts - iif(state = 'sent', ?4, 0) > 0, 'verify', 'queued')"
              " WHERE id = ?1 AND state IN ('queued', 'sent', 'verify')",
              next_attempt_at, error, std::int64_t{effect == Effect::none});
}

Result<void> SqliteStore::verified_absent(WriteId id, Millis next_attempt_at, Millis now) {
  return move("outbox", id, "queued again", now,
              "UPDATE outbox SET state = 'queued', open_attempts = 0, next_attempt_at = ?2 WHERE id = ?1 AND state = 'verify'", next_attempt_at);
}

Result<void> SqliteStore::hold_write(WriteId id, std::string_view reason, Millis now) {
  return move("outbox", id, "held", now, "UPDATE outbox SET state = 'held', last_error = ?2 WHERE id = ?1 AND state IN ('queued', 'sent', 'verify')",
              reason);
}

Result<void> SqliteStore::release_write(WriteId id, Millis now) {
  return move("outbox", id, "released", now,
              "UPDATE outbox SET state = iif(open_attempts > 0, 'verify', 'queued'), next_attempt_at = ?2 WHERE id = ?1 AND state = 'held'", now);
}

Result<std::int64_t> SqliteStore::supersede_unsent(std::string_view case_key, std::string_view reason, Millis now) {
  return db_->unit(now, [&] {
    return db_->run(
        "UPDATE outbox SET state = 'superseded', last_error = ?2 WHERE case_key = ?1 AND state IN ('queued', 'sent', 'verify', 'held')"
        " AND state IN ('queued', 'held') AND open_attempts = 0",
        case_key, reason);
  });
}

Result<void> SqliteStore::supersede_write(WriteId id, std::string_view reason, Millis now) {
  return move("outbox", id, "superseded", now,
              "UPDATE outbox SET state = 'superseded', open_attempts = 0, last_error = ?2"
              " WHERE id = ?1 AND state IN ('queued', 'sent', 'verify', 'held')",
              reason);
}

Result<void> SqliteStore::kill_write(WriteId id, std::string_view reason, Millis now) {
  return move("outbox", id, "given up", now,
              "UPDATE outbox SET state = 'dead', last_error = ?2 WHERE id = ?1 AND state IN ('queued', 'sent', 'verify', 'held')", reason);
}

Result<std::int64_t> SqliteStore::recover_interrupted(Millis now) {
  return db_->unit(now, [&] {
    return db_->run(
        "UPDATE outbox SET state = 'verify', last_error = 'interrupted' WHERE state IN ('queued', 'sent', 'verify', 'held') AND state = 'sent'");
  });
}

Result<void> SqliteStore::retry_write(WriteId id, std::string_view reason, Millis now) {
  return move("outbox", id, "tried again", now,
              "UPDATE outbox SET state = iif(open_attempts > 0, 'verify', 'queued'), last_error = ?2, next_attempt_at = ?3"
              " WHERE id = ?1 AND state = 'dead' AND mark = ''",
              reason, now);
}

Result<void> SqliteStore::discard_write(WriteId id, std::string_view reason, Millis now) {
  return move("outbox", id, "discarded", now, "UPDATE outbox SET mark = 'discarded', last_error = ?2 WHERE id = ?1 AND state = 'dead' AND mark = ''",
              reason);
}

}  // namespace store
