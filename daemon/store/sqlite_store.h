#pragma once

#include <memory>
#include <string>

#include "store/store.h"

namespace store {

struct SqliteOptions {
  std::string path;
  // For commands while the daemon is down: the file must exist and have this program's schema; every changing call is `logic`.
  bool read_only = false;
  std::string vfs_name;         // a registered SQLite VFS; empty: the system's
  Millis opened_at = 0;         // only for the record of schema changes
  int busy_timeout_ms = 2000;   // how long opening waits for another process
  bool check_at_open = true;    // quick check of the whole file
  int checkpoint_pages = 1000;  // write-ahead log pages after which a commit also checkpoints
  std::int64_t quarantine_count = 1000;
  std::int64_t quarantine_bytes = 64 * 1024 * 1024;
};

// Opens or makes the store (file mode 0600) and brings its schema up to date. Write-ahead log, full sync, one process at a time: a second one gets
// `busy`. A file of another program, or with a newer schema than this program knows, is refused (`logic`) and stays untouched.
Result<std::unique_ptr<Store>> open_sqlite(const SqliteOptions& options);

}  // namespace store
