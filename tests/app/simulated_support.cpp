#include "app/simulated_support.h"

#include <stdexcept>

namespace app_test {

Daemon::Daemon(const std::string& folder, MemoryChart& chart, const std::string& vfs, app::Millis at) {
  auto loaded = app::load_offline_rules({}, SOURCE_DIR);
  if (!loaded.rules) throw std::runtime_error("the shipped rules do not load: " + loaded.faults.front().text);
  rules = std::move(*loaded.rules);
  rules.installation = "simulated";
  rules.configuration.limits.pending_events = 1000;
  rules.configuration.limits.body_bytes = 1 << 26;
  store::SqliteOptions options;
  options.path = folder + "/aftersheath.db";
  options.vfs_name = vfs;
  auto opened = store::open_sqlite(options);
  if (opened.has_error()) throw std::runtime_error(opened.error().text);
  store = std::move(*opened);
  clock = app::rehearsal_plan_clock(at, 0, store->last_clock_reading().value().value_or(0));
  engine = std::make_unique<app::Engine>(app::EngineParts{*store, *clock, executor, timers, random, nullptr, &chart, rules, app::silent_log()});
  engine->start([this](const std::string& why) { fatal = why; });
  intake = app::intake_handler(*engine, rules, "2026-03-02T00:00:00Z");
  run();
}

Daemon::~Daemon() {
  engine.reset();
  store.reset();
}

int Daemon::put(const std::string& type, const std::string& id, const std::string& body) {
  return send("PUT", "/fhir/" + type + "/" + id, body, {{"Content-Type", "application/fhir+json"}}).status;
}

transport::Response Daemon::send(const std::string& method, const std::string& target, const std::string& body, transport::Headers headers) {
  auto answer = std::make_shared<transport::Response>(transport::Response{0, {}, ""});
  transport::Request request;
  request.method = method;
  request.target = target;
  request.headers = std::move(headers);
  request.body = body;
  intake(std::move(request), transport::Reply([answer](transport::Response response) { *answer = std::move(response); }));
  run();
  return *answer;
}

std::string fresh_folder(const std::string& name) {
  const auto folder = std::filesystem::temp_directory_path() / ("aftersheath-" + name);
  std::filesystem::remove_all(folder);
  std::filesystem::create_directories(folder);
  return folder.string();
}

}  // namespace app_test
