#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <map>
#include <memory>
#include <random>
#include <string>
#include <string_view>
#include <vector>

namespace store_test {

// What a power cut leaves of the writes that no sync had yet confirmed. What was synced always stays.
enum class Damage {
  lost_tail,     // none of them
  nothing_lost,  // all of them
  torn_page,     // all, but of each file's last one only the first half
  scattered      // some, in pieces of 512 bytes, by the seed
};

// A disk that fails when told to: an SQLite VFS in front of the default one, chosen by SqliteOptions::vfs_name.
//   FaultVfs disk("faulty", FaultVfs::Mode::power);
//   options.vfs_name = disk.name();  ... open, work ...
//   disk.cut_power_at(17);           ... work until an error, destroy the store ...
//   disk.lose_power(Damage::torn_page);   // the real files now hold what would be left: open them without vfs_name
// One store at a time, opened for writing (there is no shared memory). Destroy the store before the disk.
class FaultVfs {
 public:
  enum class Mode {
    pass_through,  // writes reach the real files at once
    power          // writes stay in memory until their file is synced; a failed sync loses them for ever although they can still be read
  };
  FaultVfs(std::string name, Mode mode);
  ~FaultVfs();
  FaultVfs(const FaultVfs&) = delete;
  FaultVfs& operator=(const FaultVfs&) = delete;
  [[nodiscard]] const std::string& name() const { return name_; }

  // Faults count from the call on, the first is number 1. `for_ever`: that one and all later ones.
  void fail_sync(int number, bool for_ever = false);                           // SQLITE_IOERR_FSYNC
  void fail_write(int number, int code = SQLITE_FULL, bool for_ever = false);  // nothing of it arrives
  // An operation is a write, sync, truncation or deletion. That one does not happen any more, and nothing after it.
  void cut_power_at(int operation);
  void heal();  // no fault from here on; the counts start again

  [[nodiscard]] int syncs() const { return sync_.count; }
  [[nodiscard]] int writes() const { return write_.count; }
  [[nodiscard]] int operations() const { return operation_.count; }
  [[nodiscard]] bool fault_came() const { return sync_.came || write_.came || operation_.came; }

  // Mode::power, all stores closed: leaves in the real files what the damage leaves, and forgets the rest.
  void lose_power(Damage damage, unsigned seed = 1);

 private:
  struct Trap {
    int at = 0;  // 0: never
    bool for_ever = false;
    int code = SQLITE_OK;
    int count = 0;
    bool came = false;
    int next();  // the code of this occurrence
  };
  struct Change {
    bool truncation = false;
    std::int64_t offset = 0;  // of a truncation: the new size
    std::string bytes;
  };
  // A file as the program sees it, and what of it the real file does not have yet.
  struct Image {
    std::string path;
    std::string now;
    std::vector<Change> unsynced;
    bool deleted = false;  // without a sync of the folder
    int open = 0;
  };
  struct File;
  struct Calls;

  Image& image(const std::string& path);
  int write(File& file, const char* bytes, int size, std::int64_t offset);
  int truncate(File& file, std::int64_t size);
  int sync(File& file, int flags);
  void sync_folder();
  int remove(const char* path, bool synced);
  void settle(Image& image, Damage damage, std::mt19937& random);
  [[nodiscard]] bool dark() const { return operation_.came; }

  std::string name_;
  Mode mode_;
  sqlite3_vfs* base_;
  sqlite3_vfs vfs_;
  Trap sync_, write_, operation_;
  std::map<std::string, Image, std::less<>> images_;
};

}  // namespace store_test
