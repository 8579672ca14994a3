#include <fmt/format.h>

#include <algorithm>

#include "store/sqlite_impl.h"

namespace store {

std::string event_query(bool with_body, std::string_view rest) {
  return fmt::format(
      "SELECT id, received_at, source, method, resource_type, resource_id, version_id, content_hash, request_id,"
      " state, mark, reason, settled_at, {} FROM event {}",
      with_body ? "body" : "''", rest);
}

Event read_event(Row& row) {
  Event e;
  e.id = row.integer();
  e.received_at = row.integer();
  e.source = row.text();
  e.method = row.text();
  e.resource_type = row.text();
  e.resource_id = row.text();
  e.version_id = row.text();
  e.content_hash = row.text();
  e.request_id = row.text();
  e.state = row.word<EventState>(kEventStates);
  e.mark = row.word<Mark>(kMarks);
  e.reason = row.text();
  e.settled_at = row.integer();
  e.body = row.text();
  return e;
}

Result<std::vector<EventId>> SqliteStore::append(std::span<const NewEvent> events) {
  std::vector<EventId> ids;
  if (events.empty()) return ids;
  const auto earlier = [](const NewEvent& a, const NewEvent& b) { return a.received_at < b.received_at; };
  const auto latest = std::max_element(events.begin(), events.end(), earlier);
  return db_->unit(latest->received_at, [&]() -> Result<std::vector<EventId>> {
    for (const NewEvent& e : events) {
      const auto added = db_->run(
          "INSERT INTO event (received_at, source, method, resource_type, resource_id, version_id, content_hash, request_id, body)"
          " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
          e.received_at, e.source, e.method, e.resource_type, e.resource_id, e.version_id, e.content_hash, e.request_id, Blob{e.body});
      if (!added) return added.error();
      ids.push_back(db_->last_id());
    }
    return std::move(ids);
  });
}

Result<std::optional<Event>> SqliteStore::event(EventId id) {
  static const std::string sql = event_query(true, "WHERE id = ?");
  return db_->first(sql, read_event, id);
}

Result<std::vector<Event>> SqliteStore::pending_events(std::size_t limit, EventId after) {
  static const std::string sql = event_query(true, "WHERE state = 'pending' AND id > ? ORDER BY id LIMIT ?");
  return db_->all(sql, read_event, after, bounded(limit));
}

Result<std::optional<Millis>> SqliteStore::oldest_pending_event() {
  return db_->first("SELECT received_at FROM event WHERE state = 'pending' ORDER BY id LIMIT 1", [](Row& row) { return row.integer(); });
}

Result<void> SqliteStore::settle_event(EventId id, EventState to, std::string_view reason, Millis now, Mark mark) {
  if (to == EventState::pending) return Error{ErrorKind::logic, "an event is settled as applied, irrelevant or dead"};
  if (mark != Mark::none && to != EventState::dead) return Error{ErrorKind::logic, "only a dead event carries a mark"};
  return move("event", id, "settled", now, "UPDATE event SET state = ?2, mark = ?3, reason = ?4, settled_at = ?5 WHERE id = ?1 AND state = 'pending'",
              word(kEventStates, to), word(kMarks, mark), reason, now);
}

}  // namespace store
