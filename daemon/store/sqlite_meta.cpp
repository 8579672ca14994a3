#include <charconv>

#include "store/sqlite_impl.h"

namespace store {

namespace {

constexpr std::string_view kLastClockReading = "last_clock_reading";

std::string read_value(Row& row) { return row.text(); }

}  // namespace

SqliteStore::SqliteStore(std::unique_ptr<Db> db, SqliteOptions options) : db_(std::move(db)), options_(std::move(options)) {
  db_->on_commit = [this](Millis now) -> Result<void> {
    const auto noted = db_->run(
        "INSERT INTO meta (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = excluded.value"
        " WHERE CAST(value AS INTEGER) < CAST(excluded.value AS INTEGER)",
        kLastClockReading, std::to_string(now));
    return noted ? Result<void>() : Result<void>(noted.error());
  };
}

Result<std::optional<std::string>> SqliteStore::meta(std::string_view key) {
  return db_->first("SELECT value FROM meta WHERE key = ?", read_value, key);
}

Result<void> SqliteStore::set_meta(std::string_view key, std::string_view value) {
  return db_->unit(std::nullopt, [&]() -> Result<void> {
    const auto put = db_->run("INSERT OR REPLACE INTO meta (key, value) VALUES (?, ?)", key, value);
    return put ? Result<void>() : Result<void>(put.error());
  });
}

Result<std::string> SqliteStore::meta_once(std::string_view key, std::string_view value) {
  return db_->unit(std::nullopt, [&]() -> Result<std::string> {
    const auto added = db_->run("INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT DO NOTHING", key, value);
    if (!added) return added.error();
    const auto stands = meta(key);
    if (!stands) return stands.error();
    return **stands;
  });
}

Result<std::optional<Millis>> SqliteStore::last_clock_reading() {
  const auto text = meta(kLastClockReading);
  if (!text) return text.error();
  if (!*text) return std::optional<Millis>();
  Millis reading = 0;
  const std::string& digits = **text;
  const auto [end, fault] = std::from_chars(digits.data(), digits.data() + digits.size(), reading);
  if (fault != std::errc() || end != digits.data() + digits.size()) return Error{ErrorKind::corrupt, "the last clock reading is no number"};
  return std::optional(reading);
}

}  // namespace store
