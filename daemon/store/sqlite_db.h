#pragma once

#include <sqlite3.h>

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "store/error.h"

namespace store {

// Bytes rather than text: bound and kept as a BLOB.
struct Blob {
  std::string_view bytes;
};

// The columns of the row a statement stands on, read from left to right.
class Row {
 public:
  explicit Row(sqlite3_stmt* statement) : statement_(statement) {}
  std::int64_t integer() { return sqlite3_column_int64(statement_, next_++); }
  bool flag() { return integer() != 0; }
  std::optional<std::int64_t> maybe();
  std::string text();  // also bytes
  // The index of the text in `words`, as an E. A word not listed spoils the row: see spoilt().
  template <class E>
  E word(std::span<const std::string_view> words) {
    return static_cast<E>(index_in(words));
  }
  [[nodiscard]] bool spoilt() const { return spoilt_; }

 private:
  std::size_t index_in(std::span<const std::string_view> words);
  sqlite3_stmt* statement_;
  int next_ = 0;
  bool spoilt_ = false;
};

// One SQLite connection: prepared statements kept by their text, errors by what the caller does next, nested units of work.
class Db {
 public:
  struct Options {
    std::string path;
    std::string vfs_name;
    bool read_only = false;
    int busy_timeout_ms = 0;
    int checkpoint_pages = 1000;
  };
  static Result<std::unique_ptr<Db>> open(const Options& options);
  ~Db();
  Db(const Db&) = delete;
  Db& operator=(const Db&) = delete;

  // Runs a statement; the number of rows it changed.
  template <class... Args>
  Result<std::int64_t> run(std::string_view sql, const Args&... args) {
    if (const auto done = each(
            sql, [](Row&) {}, args...);
        !done)
      return done.error();
    return std::int64_t{sqlite3_changes64(handle_)};
  }

  template <class Read, class... Args>
  auto all(std::string_view sql, Read read, const Args&... args) -> Result<std::vector<std::invoke_result_t<Read, Row&>>> {
    std::vector<std::invoke_result_t<Read, Row&>> rows;
    const auto done = each(
        sql, [&](Row& row) { rows.push_back(read(row)); }, args...);
    if (!done) return done.error();
    return rows;
  }

  // The first row, or none.
  template <class Read, class... Args>
  auto first(std::string_view sql, Read read, const Args&... args) -> Result<std::optional<std::invoke_result_t<Read, Row&>>> {
    std::optional<std::invoke_result_t<Read, Row&>> found;
    const auto done = each(
        sql,
        [&](Row& row) {
          if (!found) found = read(row);
        },
        args...);
    if (!done) return done.error();
    return found;
  }

  // Runs fn (returning some Result) as one unit; a unit inside a unit is a part of it that can be undone alone. A read-only connection refuses.
  template <class Fn>
  auto unit(std::optional<Millis> now, Fn&& fn) -> std::invoke_result_t<Fn> {
    Scope scope(*this);
    if (const auto begun = scope.begin(); !begun) return begun.error();
    auto result = fn();
    if (!result) return result;
    if (now && (!now_ || *now > *now_)) now_ = now;
    if (const auto ended = scope.end(); !ended) return ended.error();
    return result;
  }

  Result<void> script(const char* sql);  // several statements, outside the statement cache
  Result<void> checkpoint(bool truncate);
  // An integrity PRAGMA; `corrupt` with its first finding.
  Result<void> check(std::string_view pragma);
  // Copies everything into the (existing, empty) file and checks the copy.
  Result<void> copy_to(const std::string& path);
  Result<void> close();

  [[nodiscard]] std::int64_t last_id() const { return sqlite3_last_insert_rowid(handle_); }
  [[nodiscard]] bool inside_unit() const { return depth_ > 0; }
  [[nodiscard]] const std::optional<Error>& failure() const { return failure_; }
  // Called with the greatest `now` of the units inside, in the transaction about to commit.
  std::function<Result<void>(Millis)> on_commit;

 private:
  class Scope {
   public:
    explicit Scope(Db& db) : db_(db) {}
    ~Scope();
    Scope(const Scope&) = delete;
    Scope& operator=(const Scope&) = delete;
    Result<void> begin();
    Result<void> end();

   private:
    Db& db_;
    bool open_ = false;
  };

  explicit Db(sqlite3* handle, const Options& options) : handle_(handle), options_(options) {}

  template <class Use, class... Args>
  Result<void> each(std::string_view sql, Use use, const Args&... args) {
    auto prepared = prepare(sql);
    if (!prepared) return prepared.error();
    sqlite3_stmt* statement = *prepared;
    const Reset reset(statement);
    int at = 0;
    int code = SQLITE_OK;
    ((code = code == SQLITE_OK ? bind(statement, ++at, args) : code), ...);
    while (code == SQLITE_OK || code == SQLITE_ROW) {
      code = sqlite3_step(statement);
      if (code != SQLITE_ROW) break;
      Row row(statement);
      use(row);
      if (row.spoilt()) return failed(Error{ErrorKind::corrupt, "the store holds a word this program does not know"});
    }
    return code == SQLITE_DONE ? Result<void>() : Result<void>(fault(code));
  }

  struct Reset {
    explicit Reset(sqlite3_stmt* s) : statement(s) {}
    ~Reset() {
      sqlite3_reset(statement);
      sqlite3_clear_bindings(statement);
    }
    Reset(const Reset&) = delete;
    Reset& operator=(const Reset&) = delete;
    sqlite3_stmt* statement;
  };

  static int bind(sqlite3_stmt* s, int at, std::int64_t value) { return sqlite3_bind_int64(s, at, value); }
  static int bind(sqlite3_stmt* s, int at, const std::optional<Millis>& value);
  static int bind(sqlite3_stmt* s, int at, std::string_view value);
  static int bind(sqlite3_stmt* s, int at, Blob value);

  Result<void> usable() const;
  Result<sqlite3_stmt*> prepare(std::string_view sql);
  Result<void> commit();
  void roll_back();
  Error fault(int code);
  Error failed(Error error);  // marks the connection failed
  void checkpoint_if_due();

  sqlite3* handle_;
  Options options_;
  std::map<std::string, sqlite3_stmt*, std::less<>> statements_;
  int depth_ = 0;
  int log_pages_ = 0;          // pages in the write-ahead log after the last commit
  std::optional<Millis> now_;  // greatest inside the open unit
  std::optional<Error> lost_;  // SQLite gave up the open transaction by itself
  std::optional<Error> failure_;
};

}  // namespace store
