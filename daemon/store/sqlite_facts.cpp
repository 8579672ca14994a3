#include <algorithm>

#include "store/sqlite_impl.h"

namespace store {

namespace {

#define FACT_COLUMNS "SELECT source, type, id, version_id, last_updated, deleted, patient, event_id, content_hash, body FROM fact "

CurrentFact read_fact(Row& row) {
  CurrentFact f;
  f.source = row.text();
  f.type = row.text();
  f.id = row.text();
  f.version_id = row.text();
  f.last_updated = row.text();
  f.deleted = row.flag();
  f.patient = row.text();
  f.event_id = row.integer();
  f.content_hash = row.text();
  f.body = row.text();
  return f;
}

}  // namespace

Result<void> SqliteStore::put_current(const CurrentFact& f, std::span<const std::string> refers_to) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    const auto row = db_->first(
        "INSERT INTO fact (source, type, id, version_id, last_updated, deleted, patient, event_id, content_hash, body)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (source, type, id) DO UPDATE SET version_id = excluded.version_id, last_updated = excluded.last_updated,"
        " deleted = excluded.deleted, patient = excluded.patient, event_id = excluded.event_id, content_hash = excluded.content_hash,"
        " body = excluded.body RETURNING row_id",
        [](Row& r) { return r.integer(); }, f.source, f.type, f.id, f.version_id, f.last_updated, f.deleted, f.patient, f.event_id, f.content_hash,
        Blob{f.body});
    if (!row) return row.error();
    if (const auto gone = db_->run("DELETE FROM reference WHERE fact = ?", **row); !gone) return gone.error();
    for (const std::string& target : refers_to) {
      const auto added = db_->run("INSERT OR IGNORE INTO reference (source, target, fact) VALUES (?, ?, ?)", f.source, target, **row);
      if (!added) return added.error();
    }
    return {};
  });
}

Result<std::optional<CurrentFact>> SqliteStore::current(std::string_view source, std::string_view type, std::string_view id) {
  return db_->first(FACT_COLUMNS "WHERE source = ? AND type = ? AND id = ?", read_fact, source, type, id);
}

Result<std::vector<CurrentFact>> SqliteStore::current_of_patient(std::string_view source, std::string_view patient) {
  return db_->all(FACT_COLUMNS "WHERE source = ? AND patient = ? AND patient <> '' AND deleted = 0 ORDER BY type, id", read_fact, source, patient);
}

Result<std::vector<CurrentFact>> SqliteStore::current_of_type(std::string_view source, std::string_view type, std::size_t limit,
                                                              std::string_view after_id) {
  return db_->all(FACT_COLUMNS "WHERE source = ? AND type = ? AND id > ? AND deleted = 0 ORDER BY id LIMIT ?", read_fact, source, type, after_id,
                  bounded(limit));
}

Result<std::vector<FactKey>> SqliteStore::referrers(std::string_view source, std::string_view target) {
  return db_->all(
      "SELECT f.source, f.type, f.id, f.patient FROM reference AS r JOIN fact AS f ON f.row_id = r.fact"
      " WHERE r.source = ? AND r.target = ? ORDER BY f.type, f.id",
      [](Row& row) {
        FactKey key;
        key.source = row.text();
        key.type = row.text();
        key.id = row.text();
        key.patient = row.text();
        return key;
      },
      source, target);
}

}  // namespace store
