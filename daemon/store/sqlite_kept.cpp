#include "store/sqlite_impl.h"

// Acts done once, evaluations, quarantine, blobs.
namespace store {

Result<bool> SqliteStore::do_once(std::string_view case_key, std::string_view cause, Millis now) {
  return db_->unit(now, [&]() -> Result<bool> {
    const auto added = db_->run("INSERT INTO act (case_key, cause, at) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", case_key, cause, now);
    if (!added) return added.error();
    return *added == 1;
  });
}

Result<std::int64_t> SqliteStore::add_evaluation(const Evaluation& e) {
  return db_->unit(e.now, [&]() -> Result<std::int64_t> {
    const auto added =
        db_->run("INSERT INTO evaluation (case_key, now, cause, plan_hash) VALUES (?, ?, ?, ?)", e.case_key, e.now, e.trigger, e.plan_hash);
    if (!added) return added.error();
    return db_->last_id();
  });
}

Result<std::vector<Evaluation>> SqliteStore::evaluations(std::string_view case_key, std::size_t limit, std::int64_t after) {
  const auto read = [](Row& row) {
    Evaluation e;
    e.id = row.integer();
    e.case_key = row.text();
    e.now = row.integer();
    e.trigger = row.text();
    e.plan_hash = row.text();
    return e;
  };
  if (case_key.empty())
    return db_->all("SELECT id, case_key, now, cause, plan_hash FROM evaluation WHERE id > ? ORDER BY id LIMIT ?", read, after, bounded(limit));
  return db_->all("SELECT id, case_key, now, cause, plan_hash FROM evaluation WHERE case_key = ? AND id > ? ORDER BY id LIMIT ?", read, case_key,
                  after, bounded(limit));
}

Result<std::int64_t> SqliteStore::quarantine(const Quarantined& q) {
  const auto body = std::string_view(q.body).substr(0, static_cast<std::size_t>(options_.quarantine_bytes));
  return db_->unit(q.at, [&]() -> Result<std::int64_t> {
    const auto added = db_->run("INSERT INTO quarantine (event_id, at, source, reason, bytes, body) VALUES (?, ?, ?, ?, ?, ?)", q.event_id, q.at,
                                q.source, q.reason, static_cast<std::int64_t>(body.size()), Blob{body});
    if (!added) return added.error();
    const auto id = db_->last_id();
    if (const auto room = make_room_in_quarantine(); !room) return room.error();
    return id;
  });
}

Result<void> SqliteStore::make_room_in_quarantine() {
  for (;;) {
    const auto counts = quarantine_counts();
    if (!counts) return counts.error();
    if (counts->kept <= options_.quarantine_count && counts->kept_bytes <= options_.quarantine_bytes) return {};
    const auto dropped = db_->run("DELETE FROM quarantine WHERE id = (SELECT min(id) FROM quarantine)");
    if (!dropped) return dropped.error();
  }
}

Result<std::vector<Quarantined>> SqliteStore::quarantined(std::size_t limit, std::size_t offset) {
  return db_->all(
      "SELECT id, event_id, at, source, reason, body FROM quarantine ORDER BY id DESC LIMIT ? OFFSET ?",
      [](Row& row) {
        Quarantined q;
        q.id = row.integer();
        q.event_id = row.integer();
        q.at = row.integer();
        q.source = row.text();
        q.reason = row.text();
        q.body = row.text();
        return q;
      },
      bounded(limit), bounded(offset));
}

Result<QuarantineCounts> SqliteStore::quarantine_counts() {
  const auto counts = db_->first(
      "SELECT max(iif(what = 'kept', n, 0)), max(iif(what = 'kept_bytes', n, 0)), max(iif(what = 'dropped', n, 0)),"
      " max(iif(what = 'dropped_bytes', n, 0)) FROM tally WHERE ledger = 'quarantine'",
      [](Row& row) {
        QuarantineCounts c;
        c.kept = row.integer();
        c.kept_bytes = row.integer();
        c.dropped = row.integer();
        c.dropped_bytes = row.integer();
        return c;
      });
  if (!counts) return counts.error();
  return **counts;
}

Result<void> SqliteStore::put_blob(std::string_view sha256, std::string_view content) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    const auto added = db_->run("INSERT INTO blob (sha256, content) VALUES (?, ?) ON CONFLICT DO NOTHING", sha256, Blob{content});
    return added ? Result<void>() : Result<void>(added.error());
  });
}

Result<std::optional<std::string>> SqliteStore::blob(std::string_view sha256) {
  return db_->first(
      "SELECT content FROM blob WHERE sha256 = ?", [](Row& row) { return row.text(); }, sha256);
}

}  // namespace store
