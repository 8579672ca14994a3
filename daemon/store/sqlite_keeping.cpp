#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <limits>

#include "store/sqlite_impl.h"

namespace store {

namespace {

Error copy_error(const std::string& path, int fault) {
  return Error{fault == ENOSPC ? ErrorKind::full : ErrorKind::logic, fmt::format("{}: {}", path, std::strerror(fault))};
}

// An empty file of mode 0600 that was not there before.
Result<void> make_new_file(const std::string& path) {
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, S_IRUSR | S_IWUSR);
  if (file < 0) return copy_error(path, errno);
  ::close(file);
  return {};
}

// So that the new name itself outlasts a power cut.
Result<void> sync_folder_of(const std::string& path) {
  const auto folder = std::filesystem::absolute(path).parent_path().string();
  const int handle = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle < 0) return copy_error(folder, errno);
  const int synced = ::fsync(handle);
  const int why = errno;
  ::close(handle);
  return synced == 0 ? Result<void>() : Result<void>(copy_error(folder, why));
}

}  // namespace

std::int64_t bounded(std::size_t count) {
  constexpr auto most = static_cast<std::size_t>(std::numeric_limits<std::int64_t>::max());
  return static_cast<std::int64_t>(std::min(count, most));
}

Result<void> SqliteStore::transaction(Millis now, const Unit& fn) {
  return db_->unit(now, [&] { return fn(*this); });
}

Result<void> SqliteStore::checkpoint() { return db_->checkpoint(true); }

Result<void> SqliteStore::verify() { return db_->check("PRAGMA integrity_check(1)"); }

std::optional<Error> SqliteStore::failure() const { return db_->failure(); }

Result<void> SqliteStore::close() { return db_->close(); }

Result<void> SqliteStore::backup_to(const std::string& path) {
  if (db_->inside_unit()) return Error{ErrorKind::logic, "no backup inside a transaction"};
  std::error_code ignored;
  if (std::filesystem::exists(path, ignored)) return Error{ErrorKind::logic, fmt::format("{} exists already", path)};
  const auto part = fmt::format("{}.part", path);
  std::filesystem::remove(part, ignored);
  if (const auto made = make_new_file(part); !made) return made;
  auto done = db_->copy_to(part);
  for (const char* rest : {"-journal", "-wal"}) std::filesystem::remove(fmt::format("{}{}", part, rest), ignored);
  if (done && std::rename(part.c_str(), path.c_str()) != 0) done = copy_error(path, errno);
  if (!done) {
    std::filesystem::remove(part, ignored);
    return done;
  }
  return sync_folder_of(path);
}

}  // namespace store
