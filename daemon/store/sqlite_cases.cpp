#include "store/sqlite_impl.h"

namespace store {

namespace {

#define CASE_COLUMNS                                                                                                                           \
  "SELECT key, patient, source, plan_hash, as_of, wake_at, state, open, transaction_count, sheet_count, care_plan_id, care_plan_etag, extra, " \
  "plan, written_view FROM care_case "

Case read_case(Row& row) {
  Case c;
  c.key = row.text();
  c.patient = row.text();
  c.source = row.text();
  c.plan_hash = row.text();
  c.as_of = row.integer();
  c.wake_at = row.maybe();
  c.state = row.text();
  c.open = row.flag();
  c.transaction_count = row.integer();
  c.sheet_count = row.integer();
  c.care_plan_id = row.text();
  c.care_plan_etag = row.text();
  c.extra = row.text();
  c.plan = row.text();
  c.written_view = row.text();
  return c;
}

std::string read_key(Row& row) { return row.text(); }

}  // namespace

Result<void> SqliteStore::put_case(const Case& c) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    const auto put = db_->run(
        "INSERT OR REPLACE INTO care_case (key, patient, source, plan_hash, as_of, wake_at, state, open, transaction_count, sheet_count,"
        " care_plan_id, care_plan_etag, extra, plan, written_view) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        c.key, c.patient, c.source, c.plan_hash, c.as_of, c.wake_at, c.state, c.open, c.transaction_count, c.sheet_count, c.care_plan_id,
        c.care_plan_etag, c.extra, c.plan, c.written_view);
    return put ? Result<void>() : Result<void>(put.error());
  });
}

Result<std::optional<Case>> SqliteStore::case_of(std::string_view key) { return db_->first(CASE_COLUMNS "WHERE key = ?", read_case, key); }

Result<std::vector<Case>> SqliteStore::cases_of_patient(std::string_view source, std::string_view patient) {
  return db_->all(CASE_COLUMNS "WHERE source = ? AND patient = ? ORDER BY key", read_case, source, patient);
}

Result<std::vector<std::string>> SqliteStore::open_case_keys() { return db_->all("SELECT key FROM care_case WHERE open = 1 ORDER BY key", read_key); }

Result<std::vector<std::string>> SqliteStore::case_keys(std::size_t limit, std::size_t offset) {
  return db_->all("SELECT key FROM care_case ORDER BY key LIMIT ? OFFSET ?", read_key, bounded(limit), bounded(offset));
}

Result<std::vector<std::string>> SqliteStore::due_case_keys(Millis now, std::size_t limit) {
  return db_->all("SELECT key FROM care_case WHERE wake_at IS NOT NULL AND wake_at <= ? ORDER BY wake_at, key LIMIT ?", read_key, now,
                  bounded(limit));
}

Result<std::optional<Millis>> SqliteStore::next_wake() {
  return db_->first("SELECT wake_at FROM care_case WHERE wake_at IS NOT NULL ORDER BY wake_at LIMIT 1", [](Row& row) { return row.integer(); });
}

}  // namespace store
