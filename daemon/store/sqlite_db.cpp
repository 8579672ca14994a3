#include "store/sqlite_db.h"

#include <fmt/format.h>

#include <algorithm>

namespace store {

std::optional<std::int64_t> Row::maybe() {
  if (sqlite3_column_type(statement_, next_) == SQLITE_NULL) {
    ++next_;
    return std::nullopt;
  }
  return integer();
}

std::string Row::text() {
  const auto* bytes = static_cast<const char*>(sqlite3_column_blob(statement_, next_));
  const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_, next_));
  ++next_;
  return bytes == nullptr ? std::string() : std::string(bytes, size);
}

std::size_t Row::index_in(std::span<const std::string_view> words) {
  const auto found = std::find(words.begin(), words.end(), text());
  spoilt_ = spoilt_ || found == words.end();
  return found == words.end() ? 0 : static_cast<std::size_t>(found - words.begin());
}

int Db::bind(sqlite3_stmt* s, int at, const std::optional<Millis>& value) {
  return value ? sqlite3_bind_int64(s, at, *value) : sqlite3_bind_null(s, at);
}

// An empty view may have no address, which SQLite would take for NULL.
int Db::bind(sqlite3_stmt* s, int at, std::string_view value) {
  return sqlite3_bind_text64(s, at, value.empty() ? "" : value.data(), value.size(), SQLITE_STATIC, SQLITE_UTF8);
}

int Db::bind(sqlite3_stmt* s, int at, Blob value) {
  return sqlite3_bind_blob64(s, at, value.bytes.empty() ? "" : value.bytes.data(), value.bytes.size(), SQLITE_STATIC);
}

Result<void> Db::usable() const {
  if (failure_) return Error{ErrorKind::io_fatal, "the store has failed: " + failure_->text};
  if (handle_ == nullptr) return Error{ErrorKind::logic, "the store is closed"};
  if (lost_) return *lost_;
  return {};
}

Result<sqlite3_stmt*> Db::prepare(std::string_view sql) {
  if (const auto can = usable(); !can) return can.error();
  if (const auto kept = statements_.find(sql); kept != statements_.end()) return kept->second;
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v3(handle_, sql.data(), static_cast<int>(sql.size()), SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  if (code != SQLITE_OK) return fault(code);
  statements_.emplace(std::string(sql), statement);
  return statement;
}

Result<void> Db::script(const char* sql) {
  if (const auto can = usable(); !can) return can.error();
  const int code = sqlite3_exec(handle_, sql, nullptr, nullptr, nullptr);
  return code == SQLITE_OK ? Result<void>() : Result<void>(fault(code));
}

namespace {

ErrorKind kind_of(int code) {
  switch (code & 0xff) {
    case SQLITE_FULL:
      return ErrorKind::full;
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return ErrorKind::busy;
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
      return ErrorKind::corrupt;
    case SQLITE_CONSTRAINT:
    case SQLITE_ERROR:
    case SQLITE_TOOBIG:
    case SQLITE_MISUSE:
    case SQLITE_MISMATCH:
    case SQLITE_RANGE:
      return ErrorKind::logic;
    case SQLITE_READONLY:
      return code == SQLITE_READONLY_DBMOVED ? ErrorKind::io_fatal : ErrorKind::logic;
    default:
      return ErrorKind::io_fatal;
  }
}

}  // namespace

Error Db::fault(int code) {
  Error error{kind_of(code), fmt::format("SQLite {}: {}", code, handle_ == nullptr ? sqlite3_errstr(code) : sqlite3_errmsg(handle_))};
  if (error.kind == ErrorKind::busy) error.text = "the store is in use by another process";
  if (error.kind == ErrorKind::io_fatal || error.kind == ErrorKind::corrupt) failed(error);
  if (depth_ > 0 && sqlite3_get_autocommit(handle_) != 0 && !lost_) lost_ = error;
  return error;
}

Error Db::failed(Error error) {
  if (!failure_) failure_ = error;
  return error;
}

Result<void> Db::Scope::begin() {
  if (db_.options_.read_only) return Error{ErrorKind::logic, "the store is open for reading only"};
  const auto begun = db_.run(db_.depth_ == 0 ? "BEGIN IMMEDIATE" : "SAVEPOINT part");
  if (!begun) return begun.error();
  ++db_.depth_;
  open_ = true;
  return {};
}

Result<void> Db::Scope::end() {
  if (db_.depth_ > 1) {
    const auto released = db_.run("RELEASE part");
    if (!released) return released.error();
    open_ = false;
    --db_.depth_;
    return {};
  }
  if (const auto done = db_.commit(); !done) return done.error();
  open_ = false;
  db_.depth_ = 0;
  db_.checkpoint_if_due();
  return {};
}

Db::Scope::~Scope() {
  if (!open_) return;
  db_.roll_back();
  --db_.depth_;
  if (db_.depth_ == 0) {
    db_.lost_.reset();
    db_.now_.reset();
  }
}

Result<void> Db::commit() {
  if (now_ && on_commit) {
    if (const auto noted = on_commit(*now_); !noted) return noted.error();
  }
  const auto done = run("COMMIT");
  if (!done) return done.error();
  now_.reset();
  return {};
}

// On a failed connection too: what the open transaction did must not stay in the page cache. Errors are not looked at: either SQLite has rolled
// back by itself, or the connection has failed.
void Db::roll_back() {
  if (handle_ == nullptr || sqlite3_get_autocommit(handle_) != 0) return;
  sqlite3_exec(handle_, depth_ == 1 ? "ROLLBACK" : "ROLLBACK TO part; RELEASE part", nullptr, nullptr, nullptr);
}

}  // namespace store
