#include <fmt/format.h>

#include "store/sqlite_db.h"

// The connection as a file: opening, checkpoint, copy, closing.
namespace store {

namespace {

const char* vfs(const std::string& name) { return name.empty() ? nullptr : name.c_str(); }

// What is wrong with a copy does not touch the store itself.
Error copy_fault(const std::string& path, int code) {
  const auto kind = (code & 0xff) == SQLITE_FULL ? ErrorKind::full : ErrorKind::logic;
  return Error{kind, fmt::format("{}: {}", path, sqlite3_errstr(code))};
}

}  // namespace

Result<std::unique_ptr<Db>> Db::open(const Options& options) {
  sqlite3* handle = nullptr;
  const int flags = (options.read_only ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE) | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
  const int code = sqlite3_open_v2(options.path.c_str(), &handle, flags, vfs(options.vfs_name));
  std::unique_ptr<Db> db(new Db(handle, options));
  if (code != SQLITE_OK) return Error{ErrorKind::io_fatal, fmt::format("{} cannot be opened: {}", options.path, sqlite3_errstr(code))};
  sqlite3_busy_timeout(handle, options.busy_timeout_ms);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  sqlite3_db_config(handle, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, nullptr);
  // Checkpoints are ours: SQLite's automatic one swallows its errors, a failed fsync among them.
  sqlite3_wal_hook(
      handle,
      [](void* self, sqlite3*, const char*, int pages) {
        static_cast<Db*>(self)->log_pages_ = pages;
        return SQLITE_OK;
      },
      db.get());
  return db;
}

void Db::checkpoint_if_due() {
  if (log_pages_ < options_.checkpoint_pages) return;
  // The commit stands whatever happens here; a failure that matters has marked the connection.
  static_cast<void>(checkpoint(false));
}

Result<void> Db::checkpoint(bool truncate) {
  if (const auto can = usable(); !can) return can.error();
  if (inside_unit()) return Error{ErrorKind::logic, "no checkpoint inside a transaction"};
  const int mode = truncate ? SQLITE_CHECKPOINT_TRUNCATE : SQLITE_CHECKPOINT_PASSIVE;
  const int code = sqlite3_wal_checkpoint_v2(handle_, nullptr, mode, nullptr, nullptr);
  if (code != SQLITE_OK) return fault(code);
  log_pages_ = 0;
  return {};
}

Result<void> Db::check(std::string_view pragma) {
  const auto findings = all(pragma, [](Row& row) { return row.text(); });
  if (!findings) return findings.error();
  if (findings->size() == 1 && findings->front() == "ok") return {};
  return failed(Error{ErrorKind::corrupt, findings->empty() ? "the check of the store gave no answer" : findings->front()});
}

Result<void> Db::copy_to(const std::string& path) {
  if (const auto can = usable(); !can) return can.error();
  Options there{path, options_.vfs_name, false, 0, 0};
  auto target = open(there);
  if (!target) return target.error();
  if (const auto alone = (*target)->script("PRAGMA locking_mode = EXCLUSIVE"); !alone) return copy_fault(path, SQLITE_CANTOPEN);
  sqlite3_backup* copy = sqlite3_backup_init((*target)->handle_, "main", handle_, "main");
  if (copy == nullptr) return copy_fault(path, sqlite3_extended_errcode((*target)->handle_));
  const int stepped = sqlite3_backup_step(copy, -1);
  const int finished = sqlite3_backup_finish(copy);
  if (stepped != SQLITE_DONE || finished != SQLITE_OK) return copy_fault(path, stepped == SQLITE_DONE ? finished : stepped);
  const auto sound = (*target)->check("PRAGMA integrity_check(1)");
  if (!sound) return Error{ErrorKind::logic, fmt::format("{}: {}", path, sound.error().text)};
  const auto closed = (*target)->close();
  return closed ? closed : Result<void>(Error{ErrorKind::logic, fmt::format("{}: {}", path, closed.error().text)});
}

Result<void> Db::close() {
  if (handle_ == nullptr) return {};
  auto done = usable();
  if (done && !options_.read_only) {
    done = checkpoint(true);
    if (done) sqlite3_db_config(handle_, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, nullptr);
  }
  for (const auto& [sql, statement] : statements_) sqlite3_finalize(statement);
  statements_.clear();
  const int code = sqlite3_close(handle_);
  handle_ = nullptr;
  if (done && code != SQLITE_OK) return failed(Error{ErrorKind::io_fatal, fmt::format("closing the store: {}", sqlite3_errstr(code))});
  return done;
}

Db::~Db() { static_cast<void>(close()); }

}  // namespace store
