#include <sqlite3.h>
#include <sys/stat.h>

#include <fstream>

#include "store/store_support.h"

using namespace store;
using namespace store_test;

namespace {

using File = StoreTest;

unsigned mode_of(const std::string& path) {
  struct stat found {};
  return ::stat(path.c_str(), &found) == 0 ? found.st_mode & 0777U : 0U;
}

void by_hand(const std::string& path, const char* sql) {
  sqlite3* raw = nullptr;
  ASSERT_EQ(sqlite3_open(path.c_str(), &raw), SQLITE_OK);
  char* why = nullptr;
  EXPECT_EQ(sqlite3_exec(raw, sql, nullptr, nullptr, &why), SQLITE_OK) << why;
  sqlite3_close(raw);
}

SqliteOptions reading(const std::string& path) {
  SqliteOptions options;
  options.path = path;
  options.read_only = true;
  return options;
}

TEST_F(File, IsReadableByItsOwnerOnly) {
  must(db->put_case(a_case("p1")));
  EXPECT_EQ(mode_of(path), 0600u);
  EXPECT_EQ(mode_of(path + "-wal"), 0600u);
  EXPECT_FALSE(std::filesystem::exists(path + "-shm"));
}

TEST_F(File, CarriesWhatItIs) {
  must(db->close());
  sqlite3* raw = nullptr;
  ASSERT_EQ(sqlite3_open(path.c_str(), &raw), SQLITE_OK);
  const auto number = [&](const char* sql) {
    sqlite3_stmt* s = nullptr;
    sqlite3_prepare_v2(raw, sql, -1, &s, nullptr);
    sqlite3_step(s);
    const int found = sqlite3_column_int(s, 0);
    sqlite3_finalize(s);
    return found;
  };
  EXPECT_EQ(number("PRAGMA application_id"), 0x41665368);
  EXPECT_EQ(number("PRAGMA user_version"), number("SELECT max(number) FROM schema"));
  EXPECT_EQ(number("PRAGMA auto_vacuum"), 2);
  sqlite3_close(raw);
}

TEST_F(File, BelongsToOneProcess) {
  SqliteOptions second;
  second.path = path;
  second.busy_timeout_ms = 1;
  expect_error(open_sqlite(second), ErrorKind::busy);
  second.read_only = true;
  expect_error(open_sqlite(second), ErrorKind::busy);
  must(db->close());
  EXPECT_TRUE(open_sqlite(second));
}

TEST_F(File, ANewerSchemaIsRefusedInClearWords) {
  must(db->close());
  by_hand(path, "PRAGMA user_version = 999");
  SqliteOptions options;
  options.path = path;
  const auto refused = open_sqlite(options);
  expect_error(refused, ErrorKind::logic);
  EXPECT_NE(refused.error().text.find("has schema 999, this program knows schemas up to "), std::string::npos) << refused.error().text;
  expect_error(open_sqlite(reading(path)), ErrorKind::logic);
}

TEST_F(File, AForeignFileIsRefusedAndStaysAsItIs) {
  const auto foreign = folder.file("foreign.db");
  by_hand(foreign, "CREATE TABLE t (x)");
  SqliteOptions options;
  options.path = foreign;
  expect_error(open_sqlite(options), ErrorKind::logic);
  const auto text = folder.file("text.db");
  std::ofstream(text) << std::string(5000, 'x');
  options.path = text;
  expect_error(open_sqlite(options), ErrorKind::corrupt);
  EXPECT_EQ(std::filesystem::file_size(text), 5000u);
}

TEST_F(File, ADamagedFileIsFoundAtOpening) {
  for (int i = 0; i < 200; ++i) must(db->put_case(a_case("case " + std::to_string(i))));
  must(db->close());
  std::fstream file(path, std::ios::in | std::ios::out | std::ios::binary);
  for (int page = 3; page < 12; ++page) {
    file.seekp(page * 4096);
    file << std::string(4096, '\x5a');
  }
  file.close();
  SqliteOptions options;
  options.path = path;
  expect_error(open_sqlite(options), ErrorKind::corrupt);
}

TEST_F(File, ReadingOnlyReadsAlsoAfterAKill) {
  must(db->put_case(a_case("p1")));
  std::filesystem::copy(path, folder.file("killed.db"));
  std::filesystem::copy(path + "-wal", folder.file("killed.db-wal"));
  const auto reader = must_open(reading(folder.file("killed.db")));
  EXPECT_TRUE(must(reader->case_of("p1")));
  expect_error(reader->put_case(a_case("p2")), ErrorKind::logic);
  expect_error(reader->transaction(1, [](Store&) { return Result<void>(); }), ErrorKind::logic);
  must(reader->close());
  EXPECT_TRUE(must(must_open(folder.file("killed.db"))->case_of("p1"))) << "and leaves it to the daemon";
  const auto none = open_sqlite(reading(folder.file("none.db")));
  expect_error(none, ErrorKind::logic);
  EXPECT_FALSE(std::filesystem::exists(folder.file("none.db")));
}

TEST_F(File, IsMadeWithItsFolder) {
  must_open(folder.file("var/deep/store.db"));
  EXPECT_TRUE(std::filesystem::exists(folder.file("var/deep/store.db")));
}

TEST_F(File, BackupIsACompleteStore) {
  must(db->put_case(a_case("p1")));
  const auto copy = folder.file("backup.db");
  must(db->backup_to(copy));
  EXPECT_EQ(mode_of(copy), 0600u);
  must(db->put_case(a_case("later")));
  for (const char* rest : {".part", ".part-wal", ".part-journal", "-wal", "-shm"}) EXPECT_FALSE(std::filesystem::exists(copy + rest)) << rest;
  const auto back = must_open(copy);
  EXPECT_TRUE(must(back->case_of("p1")));
  EXPECT_FALSE(must(back->case_of("later")));
  must(back->verify());
  expect_error(db->backup_to(copy), ErrorKind::logic);
  expect_error(db->backup_to(folder.file("nowhere/backup.db")), ErrorKind::logic);
  must(db->transaction(1, [&](Store& s) -> Result<void> {
    expect_error(s.backup_to(folder.file("inside.db")), ErrorKind::logic);
    return {};
  }));
  must(db->put_case(a_case("after")));
}

TEST_F(File, ACheckpointEmptiesTheLog) {
  must(db->put_case(a_case("p1")));
  EXPECT_GT(std::filesystem::file_size(path + "-wal"), 0u);
  must(db->checkpoint());
  EXPECT_EQ(std::filesystem::file_size(path + "-wal"), 0u);
  must(db->verify());
  must(db->close());
  EXPECT_FALSE(std::filesystem::exists(path + "-wal"));
  expect_error(db->put_case(a_case("p2")), ErrorKind::logic);
}

TEST_F(File, TheLogDoesNotGrowForEver) {
  SqliteOptions options;
  options.path = folder.file("small-log.db");
  options.checkpoint_pages = 20;
  const auto small = must_open(options);
  for (int i = 0; i < 500; ++i) must(small->put_case(a_case("case " + std::to_string(i % 7))));
  EXPECT_LT(std::filesystem::file_size(options.path + "-wal"), 60u * 4200u);
}

}  // namespace
