#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>

#include "store/schema.h"
#include "store/sqlite_impl.h"

namespace store {

namespace {

constexpr std::int64_t kApplicationId = 0x41665368;  // "AfSh", in the file's header

Result<std::int64_t> number(Db& db, std::string_view sql) {
  const auto found = db.first(sql, [](Row& row) { return row.integer(); });
  if (!found) return found.error();
  return found->value_or(0);
}

Error no_access(const std::string& path, int fault) { return Error{ErrorKind::io_fatal, fmt::format("{}: {}", path, std::strerror(fault))}; }

// SQLite would make the file readable for others; log and journal take their mode from it.
Result<void> make_private_file(const std::string& path) {
  const auto folder = std::filesystem::path(path).parent_path();
  std::error_code fault;
  if (!folder.empty() && !std::filesystem::exists(folder, fault)) {
    std::filesystem::create_directories(folder, fault);
    if (fault) return no_access(folder.string(), fault.value());
  }
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (file < 0) return no_access(path, errno);
  const int changed = ::fchmod(file, S_IRUSR | S_IWUSR);
  const int why = errno;
  ::close(file);
  return changed == 0 ? Result<void>() : Result<void>(no_access(path, why));
}

struct FileKind {
  bool empty = false;
  std::int64_t schema = 0;
};

// Whose file it is, read before anything in it is touched.
Result<FileKind> recognise(Db& db, const std::string& path) {
  const auto application = number(db, "PRAGMA application_id");
  if (!application) return application.error();
  const auto version = number(db, "PRAGMA user_version");
  if (!version) return version.error();
  const auto tables = number(db, "SELECT count(*) FROM sqlite_schema");
  if (!tables) return tables.error();
  if (*application == 0 && *version == 0 && *tables == 0) return FileKind{true, 0};
  if (*application != kApplicationId) return Error{ErrorKind::logic, fmt::format("{} is the database of another program", path)};
  const std::int64_t known = schema_steps().back().number;
  if (*version > known)
    return Error{ErrorKind::logic, fmt::format("{} has schema {}, this program knows schemas up to {}: it was written by a newer version of the "
                                               "program; start that version, or restore a backup made before the upgrade",
                                               path, *version, known)};
  return FileKind{false, *version};
}

Result<void> take_step(Db& db, const SchemaStep& step, Millis at) {
  return db.unit(std::nullopt, [&]() -> Result<void> {
    if (const auto done = db.script(step.sql); !done) return done;
    const auto noted = db.run("INSERT INTO schema (number, applied_at) VALUES (?, ?)", std::int64_t{step.number}, at);
    if (!noted) return noted.error();
    return db.script(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {};", kApplicationId, step.number).c_str());
  });
}

Result<void> bring_up_to_date(Db& db, FileKind kind, Millis at) {
  for (const SchemaStep& step : schema_steps()) {
    if (step.number <= kind.schema) continue;
    if (const auto taken = take_step(db, step, at); !taken) return taken;
  }
  return {};
}

Result<void> set_up_writing(Db& db, FileKind kind) {
  // EXTRA until the log is on: the rollback journal used so far, once deleted, must not come back after a power cut.
  if (const auto done = db.script("PRAGMA synchronous = EXTRA"); !done) return done;
  if (kind.empty) {
    if (const auto done = db.script("PRAGMA auto_vacuum = INCREMENTAL"); !done) return done;
  }
  const auto mode = db.first("PRAGMA journal_mode = WAL", [](Row& row) { return row.text(); });
  if (!mode) return mode.error();
  if (*mode != "wal") return Error{ErrorKind::io_fatal, "the store's file system gives no write-ahead log"};
  return db.script("PRAGMA synchronous = FULL; PRAGMA temp_store = MEMORY; PRAGMA cell_size_check = ON; PRAGMA journal_size_limit = 67108864;");
}

Result<void> prepare_for_reading(Db& db, const std::string& path) {
  const auto kind = recognise(db, path);
  if (!kind) return kind.error();
  if (kind->empty || kind->schema < schema_steps().back().number)
    return Error{ErrorKind::logic, fmt::format("{} has an older schema: start the daemon once, it brings it up to date", path)};
  return {};
}

Result<void> prepare_for_writing(Db& db, const SqliteOptions& options) {
  // One process: the write-ahead log's index stays in memory, and a second daemon cannot come in.
  if (const auto alone = db.script("PRAGMA locking_mode = EXCLUSIVE"); !alone) return alone;
  const auto kind = recognise(db, options.path);
  if (!kind) return kind.error();
  if (const auto done = set_up_writing(db, *kind); !done) return done;
  return bring_up_to_date(db, *kind, options.opened_at);
}

}  // namespace

Result<std::unique_ptr<Store>> open_sqlite(const SqliteOptions& options) {
  std::error_code ignored;
  if (options.read_only && !std::filesystem::exists(options.path, ignored))
    return Error{ErrorKind::logic, fmt::format("there is no store at {}", options.path)};
  if (!options.read_only) {
    if (const auto made = make_private_file(options.path); !made) return made.error();
  }
  auto db = Db::open({options.path, options.vfs_name, options.read_only, options.busy_timeout_ms, options.checkpoint_pages});
  if (!db) return db.error();
  const auto ready = options.read_only ? prepare_for_reading(**db, options.path) : prepare_for_writing(**db, options);
  if (!ready) return ready.error();
  if (options.check_at_open) {
    if (const auto sound = (*db)->check("PRAGMA quick_check(1)"); !sound) return sound.error();
  }
  return std::unique_ptr<Store>(std::make_unique<SqliteStore>(std::move(*db), options));
}

}  // namespace store
