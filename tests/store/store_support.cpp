#include "store/store_support.h"

#include <stdlib.h>

#include <stdexcept>

namespace store_test {

Folder::Folder(const std::string& parent) {
  const auto above = std::filesystem::exists(parent) ? std::filesystem::path(parent) : std::filesystem::temp_directory_path();
  auto name = (above / "aftersheath-store-XXXXXX").string();
  if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
  path_ = name;
}

Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

std::unique_ptr<store::Store> must_open(const store::SqliteOptions& options) { return must(store::open_sqlite(options)); }

std::unique_ptr<store::Store> must_open(const std::string& path) {
  store::SqliteOptions options;
  options.path = path;
  return must_open(options);
}

void must(const store::Result<void>& result) {
  if (!result) ADD_FAILURE() << name(result.error().kind) << ": " << result.error().text;
}

store::NewEvent an_event(const std::string& id, store::Millis at) {
  store::NewEvent e;
  e.received_at = at;
  e.method = "PUT";
  e.resource_type = "Observation";
  e.resource_id = id;
  e.version_id = "1";
  e.body = "{\"id\":\"" + id + "\"}";
  e.content_hash = "hash of " + id;
  e.request_id = "request " + id;
  return e;
}

store::NewWrite a_write(const std::string& case_key, store::Millis at, const std::string& body) {
  store::NewWrite w;
  w.case_key = case_key;
  w.target = "";
  w.body = body;
  w.created_at = at;
  w.next_attempt_at = at;
  return w;
}

store::Case a_case(const std::string& key, std::optional<store::Millis> wake_at) {
  store::Case c;
  c.key = key;
  c.patient = "Patient/a";
  c.plan = "plan of " + key;
  c.plan_hash = "hash";
  c.written_view = "view";
  c.wake_at = wake_at;
  c.state = "resting";
  return c;
}

store::CurrentFact a_fact(const std::string& type, const std::string& id, const std::string& patient) {
  store::CurrentFact f;
  f.type = type;
  f.id = id;
  f.version_id = "1";
  f.body = "body of " + id;
  f.patient = patient;
  return f;
}

store::Item an_item(const std::string& identity, const std::string& case_key) {
  store::Item i;
  i.identity = identity;
  i.case_key = case_key;
  i.type = "Task";
  i.step = "check-site";
  i.body = "{}";
  return i;
}

void StoreTest::reopen() {
  must(db->close());
  db.reset();
  db = must_open(path);
}

}  // namespace store_test
