#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <memory>
#include <string>

#include "store/sqlite_store.h"

namespace store_test {

// A folder of its own, gone with its contents at the end.
class Folder {
 public:
  explicit Folder(const std::string& parent = std::filesystem::temp_directory_path().string());  // made in /tmp where the parent is missing
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] std::string file(const std::string& name) const { return (path_ / name).string(); }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

std::unique_ptr<store::Store> must_open(const store::SqliteOptions& options);
std::unique_ptr<store::Store> must_open(const std::string& path);

// What a call gave; an error fails the test with its text and gives an empty value.
template <class T>
T must(store::Result<T> result) {
  if (result) return std::move(*result);
  ADD_FAILURE() << name(result.error().kind) << ": " << result.error().text;
  return T{};
}
void must(const store::Result<void>& result);

template <class T>
void expect_error(const store::Result<T>& result, store::ErrorKind kind) {
  ASSERT_FALSE(result) << "expected " << name(kind);
  EXPECT_EQ(name(result.error().kind), std::string(name(kind))) << result.error().text;
}

store::NewEvent an_event(const std::string& id, store::Millis at = 1000);
store::NewWrite a_write(const std::string& case_key, store::Millis at = 1000, const std::string& body = "{}");
store::Case a_case(const std::string& key, std::optional<store::Millis> wake_at = std::nullopt);
store::CurrentFact a_fact(const std::string& type, const std::string& id, const std::string& patient);
store::Item an_item(const std::string& identity, const std::string& case_key);

// A store in a folder of its own.
class StoreTest : public testing::Test {
 protected:
  Folder folder;
  std::string path = folder.file("store.db");
  std::unique_ptr<store::Store> db = must_open(path);
  void reopen();
};

}  // namespace store_test
