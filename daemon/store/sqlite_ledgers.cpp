#include <fmt/format.h>

#include <map>

#include "store/sqlite_impl.h"

namespace store {

namespace {

using Tally = std::map<std::string, std::int64_t, std::less<>>;

Result<Tally> tally(Db& db, std::string_view ledger) {
  const auto rows = db.all(
      "SELECT what, n FROM tally WHERE ledger = ?",
      [](Row& row) {
        auto what = row.text();
        return std::pair(std::move(what), row.integer());
      },
      ledger);
  if (!rows) return rows.error();
  return Tally(rows->begin(), rows->end());
}

std::string state_filter(std::optional<std::string_view> state) {
  return fmt::format("{} ORDER BY id DESC LIMIT ? OFFSET ?", state ? fmt::format("WHERE state = '{}'", *state) : "");
}

}  // namespace

Result<EventLedger> SqliteStore::event_ledger() {
  auto counts = tally(*db_, "events");
  if (!counts) return counts.error();
  Tally& n = *counts;
  EventLedger ledger;
  ledger.received = n["total"];
  ledger.applied = n["applied"];
  ledger.irrelevant = n["irrelevant"];
  ledger.pending = n["pending"];
  ledger.dead = n["dead"];
  ledger.quarantined = n["quarantined"];
  ledger.discarded = n["discarded"];
  return ledger;
}

Result<WriteLedger> SqliteStore::write_ledger(bool shadow) {
  auto counts = tally(*db_, shadow ? "shadow" : "writes");
  if (!counts) return counts.error();
  Tally& n = *counts;
  WriteLedger ledger;
  ledger.queued = n["total"];
  ledger.delivered = n["delivered"];
  ledger.superseded = n["superseded"];
  ledger.waiting = n["queued"];
  ledger.sent = n["sent"];
  ledger.verify = n["verify"];
  ledger.held = n["held"];
  ledger.pending = ledger.waiting + ledger.sent + ledger.verify + ledger.held;
  ledger.dead = n["dead"];
  ledger.discarded = n["discarded"];
  return ledger;
}

Result<std::vector<Event>> SqliteStore::list_events(std::optional<EventState> state, std::size_t limit, std::size_t offset) {
  const auto filter = state_filter(state ? std::optional(word(kEventStates, *state)) : std::nullopt);
  return db_->all(event_query(false, filter), read_event, bounded(limit), bounded(offset));
}

Result<std::vector<Write>> SqliteStore::list_writes(std::optional<WriteState> state, std::size_t limit, std::size_t offset) {
  const auto filter = state_filter(state ? std::optional(word(kWriteStates, *state)) : std::nullopt);
  return db_->all(write_query(false, filter), read_write, bounded(limit), bounded(offset));
}

Result<void> SqliteStore::retry_event(EventId id, std::string_view reason, Millis now) {
  return move("event", id, "tried again", now,
              "UPDATE event SET state = 'pending', mark = '', reason = ?2, settled_at = 0 WHERE id = ?1 AND state = 'dead' AND mark <> 'discarded'",
              reason);
}

Result<void> SqliteStore::discard_event(EventId id, std::string_view reason, Millis now) {
  return move("event", id, "discarded", now,
              "UPDATE event SET mark = 'discarded', reason = ?2, settled_at = ?3 WHERE id = ?1 AND state = 'dead' AND mark <> 'discarded'", reason,
              now);
}

Error SqliteStore::refused(std::string_view table, std::int64_t id, std::string_view what) {
  const auto sql = fmt::format("SELECT trim(state || ' ' || mark) FROM {} WHERE id = ?", table);
  const auto state = db_->first(
      sql, [](Row& row) { return row.text(); }, id);
  if (!state) return state.error();
  const auto item = fmt::format("{} {}", table == "event" ? "event" : "write", id);
  if (!*state) return Error{ErrorKind::logic, fmt::format("there is no {}", item)};
  return Error{ErrorKind::logic, fmt::format("{} cannot be {}: it is {}", item, what, **state)};
}

Result<void> SqliteStore::recount(std::string_view ledger, std::string_view rows_sql) {
  const auto kept = tally(*db_, ledger);
  if (!kept) return kept.error();
  const auto counted = db_->all(rows_sql, [](Row& row) {
    auto what = row.text();
    return std::pair(std::move(what), row.integer());
  });
  if (!counted) return counted.error();
  auto there = Tally(counted->begin(), counted->end());
  for (const auto& [what, n] : *kept) {
    if (there[what] != n) return Error{ErrorKind::corrupt, fmt::format("ledger of {}: {} is {}, counted {}", ledger, what, n, there[what])};
  }
  return {};
}

Result<void> SqliteStore::verify_ledgers() {
  // Marks and states share no word, so one list holds both.
  if (const auto same = recount("events",
                                "SELECT state, count(*) FROM event GROUP BY state UNION ALL SELECT mark, count(*) FROM event WHERE mark <> ''"
                                " GROUP BY mark UNION ALL SELECT 'total', count(*) FROM event");
      !same)
    return same;
  for (const bool shadow : {false, true}) {
    const auto rows = fmt::format("outbox WHERE shadow = {}", shadow ? 1 : 0);
    const auto same = recount(shadow ? "shadow" : "writes",
                              fmt::format("SELECT state, count(*) FROM {0} GROUP BY state UNION ALL SELECT mark, count(*) FROM {0} AND mark <> ''"
                                          " GROUP BY mark UNION ALL SELECT 'total', count(*) FROM {0}",
                                          rows));
    if (!same) return same;
  }
  return {};
}

}  // namespace store
