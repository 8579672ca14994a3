#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <new>
#include <stdexcept>
#include <utility>

#include "store/fault_vfs.h"

namespace store_test {

// What SQLite holds of an open file; in pass-through mode, and for files without a name, the default VFS's file follows it in memory.
struct FaultVfs::File {
  sqlite3_file base;
  FaultVfs* disk;
  Image* image;      // none: passed through
  bool sync_folder;  // with its first sync, as the default VFS does for a journal or log it may have made
  sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};

int FaultVfs::Trap::next() {
  ++count;
  if (at == 0 || count < at || (count > at && !for_ever)) return SQLITE_OK;
  came = true;
  return code;
}

void FaultVfs::fail_sync(int number, bool for_ever) { sync_ = {number, for_ever, SQLITE_IOERR_FSYNC, 0, false}; }
void FaultVfs::fail_write(int number, int code, bool for_ever) { write_ = {number, for_ever, code, 0, false}; }
void FaultVfs::cut_power_at(int operation) { operation_ = {operation, true, SQLITE_IOERR, 0, false}; }
void FaultVfs::heal() { sync_ = write_ = operation_ = Trap{}; }

namespace {

void apply(std::string& content, bool truncation, std::int64_t offset, std::string_view bytes) {
  const auto at = static_cast<std::size_t>(offset);
  if (truncation) {
    content.resize(std::min(at, content.size()));
    return;
  }
  if (content.size() < at + bytes.size()) content.resize(at + bytes.size());
  std::copy(bytes.begin(), bytes.end(), content.begin() + static_cast<std::ptrdiff_t>(at));
}

// The open real file, made where it was missing.
class RealFile {
 public:
  explicit RealFile(const std::string& path) : handle_(::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, S_IRUSR | S_IWUSR)) {
    if (handle_ < 0) throw std::runtime_error("cannot open " + path);
  }
  ~RealFile() { ::close(handle_); }
  RealFile(const RealFile&) = delete;
  RealFile& operator=(const RealFile&) = delete;
  void apply(bool truncation, std::int64_t offset, std::string_view bytes) {
    if (truncation && ::ftruncate(handle_, offset) != 0) throw std::runtime_error("cannot truncate");
    if (!truncation && ::pwrite(handle_, bytes.data(), bytes.size(), offset) != static_cast<ssize_t>(bytes.size()))
      throw std::runtime_error("cannot write");
  }

 private:
  int handle_;
};

}  // namespace

FaultVfs::Image& FaultVfs::image(const std::string& path) {
  Image& found = images_[path];
  if (found.open == 0 && found.unsynced.empty() && !found.deleted) {  // as it is outside
    found.path = path;
    std::ifstream in(path, std::ios::binary);
    found.now.assign(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
  }
  return found;
}

int FaultVfs::write(File& file, const char* bytes, int size, std::int64_t offset) {
  if (operation_.next() != SQLITE_OK) return SQLITE_IOERR_WRITE;
  if (const int code = write_.next(); code != SQLITE_OK) return code;
  if (file.image == nullptr) return file.real()->pMethods->xWrite(file.real(), bytes, size, offset);
  Change change{false, offset, std::string(bytes, static_cast<std::size_t>(size))};
  apply(file.image->now, false, offset, change.bytes);
  file.image->unsynced.push_back(std::move(change));
  return SQLITE_OK;
}

int FaultVfs::truncate(File& file, std::int64_t size) {
  if (operation_.next() != SQLITE_OK) return SQLITE_IOERR_TRUNCATE;
  if (file.image == nullptr) return file.real()->pMethods->xTruncate(file.real(), size);
  apply(file.image->now, true, size, {});
  file.image->unsynced.push_back({true, size, {}});
  return SQLITE_OK;
}

int FaultVfs::sync(File& file, int flags) {
  if (operation_.next() != SQLITE_OK) return SQLITE_IOERR_FSYNC;
  const int code = sync_.next();
  if (file.image == nullptr) return code != SQLITE_OK ? code : file.real()->pMethods->xSync(file.real(), flags);
  if (code == SQLITE_OK) {
    RealFile real(file.image->path);
    for (const Change& c : file.image->unsynced) real.apply(c.truncation, c.offset, c.bytes);
    if (std::exchange(file.sync_folder, false)) sync_folder();
  }
  file.image->unsynced.clear();
  return code;
}

void FaultVfs::sync_folder() {
  for (auto& [path, image] : images_) {
    if (std::exchange(image.deleted, false)) ::unlink(path.c_str());
  }
}

int FaultVfs::remove(const char* path, bool synced) {
  if (operation_.next() != SQLITE_OK) return SQLITE_IOERR_DELETE;
  if (mode_ == Mode::pass_through) return base_->xDelete(base_, path, synced ? 1 : 0);
  Image& gone = image(path);
  gone.now.clear();
  gone.unsynced.clear();
  gone.deleted = true;
  if (synced) sync_folder();
  return SQLITE_OK;
}

void FaultVfs::settle(Image& image, Damage damage, std::mt19937& random) {
  const auto survives = [&] { return damage != Damage::scattered || (random() & 1U) != 0; };
  if (image.deleted && damage != Damage::lost_tail && survives()) ::unlink(image.path.c_str());
  if (image.unsynced.empty() || damage == Damage::lost_tail) return;
  RealFile real(image.path);
  for (const Change& c : image.unsynced) {
    if (c.truncation) {
      if (survives()) real.apply(true, c.offset, {});
      continue;
    }
    auto bytes = std::string_view(c.bytes);
    if (damage == Damage::torn_page && &c == &image.unsynced.back()) bytes = bytes.substr(0, bytes.size() / 2);
    for (std::size_t at = 0; at < bytes.size(); at += 512) {
      if (survives()) real.apply(false, c.offset + static_cast<std::int64_t>(at), bytes.substr(at, 512));
    }
  }
}

void FaultVfs::lose_power(Damage damage, unsigned seed) {
  std::mt19937 random(seed);
  for (auto& [path, image] : images_) settle(image, damage, random);
  images_.clear();
  heal();
}

// The C functions that SQLite calls.
struct FaultVfs::Calls {
  static File& of(sqlite3_file* file) { return *reinterpret_cast<File*>(file); }
  static FaultVfs& of(sqlite3_vfs* vfs) { return *static_cast<FaultVfs*>(vfs->pAppData); }

  static int close(sqlite3_file* f) {
    File& file = of(f);
    if (file.image != nullptr) {
      --file.image->open;
      return SQLITE_OK;
    }
    return file.real()->pMethods->xClose(file.real());
  }
  static int read(sqlite3_file* f, void* to, int size, sqlite3_int64 offset) {
    File& file = of(f);
    if (file.disk->dark()) return SQLITE_IOERR_READ;
    if (file.image == nullptr) return file.real()->pMethods->xRead(file.real(), to, size, offset);
    const std::string_view now = file.image->now;
    const auto at = std::min(static_cast<std::size_t>(offset), now.size());
    const auto part = now.substr(at, static_cast<std::size_t>(size));
    std::memset(to, 0, static_cast<std::size_t>(size));
    std::copy(part.begin(), part.end(), static_cast<char*>(to));
    return part.size() == static_cast<std::size_t>(size) ? SQLITE_OK : SQLITE_IOERR_SHORT_READ;
  }
  static int write(sqlite3_file* f, const void* from, int size, sqlite3_int64 offset) {
    return of(f).disk->write(of(f), static_cast<const char*>(from), size, offset);
  }
  static int truncate(sqlite3_file* f, sqlite3_int64 size) { return of(f).disk->truncate(of(f), size); }
  static int sync(sqlite3_file* f, int flags) { return of(f).disk->sync(of(f), flags); }
  static int size(sqlite3_file* f, sqlite3_int64* size) {
    File& file = of(f);
    if (file.image == nullptr) return file.real()->pMethods->xFileSize(file.real(), size);
    *size = static_cast<sqlite3_int64>(file.image->now.size());
    return SQLITE_OK;
  }
  static int lock(sqlite3_file* f, int level) {
    File& file = of(f);
    return file.image != nullptr ? SQLITE_OK : file.real()->pMethods->xLock(file.real(), level);
  }
  static int unlock(sqlite3_file* f, int level) {
    File& file = of(f);
    return file.image != nullptr ? SQLITE_OK : file.real()->pMethods->xUnlock(file.real(), level);
  }
  static int reserved(sqlite3_file* f, int* held) {
    File& file = of(f);
    *held = 0;
    return file.image != nullptr ? SQLITE_OK : file.real()->pMethods->xCheckReservedLock(file.real(), held);
  }
  static int control(sqlite3_file* f, int what, void* value) {
    File& file = of(f);
    return file.image != nullptr ? SQLITE_NOTFOUND : file.real()->pMethods->xFileControl(file.real(), what, value);
  }
  static int sector(sqlite3_file*) { return 4096; }
  static int traits(sqlite3_file*) { return SQLITE_IOCAP_POWERSAFE_OVERWRITE; }

  static int open(sqlite3_vfs* vfs, sqlite3_filename path, sqlite3_file* f, int flags, int* out) {
    static const sqlite3_io_methods methods{1,       close,  read,   write,   truncate, sync,    size,    lock,    unlock, reserved,
                                            control, sector, traits, nullptr, nullptr,  nullptr, nullptr, nullptr, nullptr};
    FaultVfs& disk = of(vfs);
    File* file = new (f) File{{nullptr}, &disk, nullptr, false};
    if (disk.dark()) return SQLITE_CANTOPEN;
    if (path != nullptr && disk.mode_ == Mode::power) {
      file->image = &disk.image(path);
      file->sync_folder = (flags & SQLITE_OPEN_CREATE) != 0 && (flags & (SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_WAL)) != 0;
      ++file->image->open;
      if (std::exchange(file->image->deleted, false)) file->image->unsynced.push_back({true, 0, {}});
      if (out != nullptr) *out = flags;
    } else if (const int code = disk.base_->xOpen(disk.base_, path, file->real(), flags, out); code != SQLITE_OK) {
      return code;
    }
    file->base.pMethods = &methods;
    return SQLITE_OK;
  }
  static int remove(sqlite3_vfs* vfs, const char* path, int synced) { return of(vfs).remove(path, synced != 0); }
  static int access(sqlite3_vfs* vfs, const char* path, int flags, int* found) {
    FaultVfs& disk = of(vfs);
    if (disk.mode_ == Mode::pass_through) return disk.base_->xAccess(disk.base_, path, flags, found);
    const Image& image = disk.image(path);
    *found = image.open > 0 || !image.now.empty() || !image.unsynced.empty() || (!image.deleted && std::filesystem::exists(path)) ? 1 : 0;
    return SQLITE_OK;
  }
};

FaultVfs::FaultVfs(std::string name, Mode mode) : name_(std::move(name)), mode_(mode), base_(sqlite3_vfs_find(nullptr)), vfs_(*base_) {
  vfs_.iVersion = 2;
  vfs_.szOsFile = static_cast<int>(sizeof(File)) + base_->szOsFile;
  vfs_.pNext = nullptr;
  vfs_.zName = name_.c_str();
  vfs_.pAppData = this;
  vfs_.xOpen = Calls::open;
  vfs_.xDelete = Calls::remove;
  vfs_.xAccess = Calls::access;
  sqlite3_vfs_register(&vfs_, 0);
}

FaultVfs::~FaultVfs() { sqlite3_vfs_unregister(&vfs_); }

}  // namespace store_test
