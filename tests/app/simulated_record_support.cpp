#include "app/simulated_record_support.h"

#include <fmt/format.h>

#include <ctime>
#include <stdexcept>

#include "fhir/date_time.h"
#include "store/sqlite_store.h"

namespace app_test {
namespace {

const std::string kBase = "http://127.0.0.1:9/fhir";

std::string date_header(app::Millis at) {
  const std::time_t seconds = at / 1000;
  std::tm parts{};
  ::gmtime_r(&seconds, &parts);
  char text[64];
  std::strftime(text, sizeof text, "%a, %d %b %Y %H:%M:%S GMT", &parts);
  return text;
}

std::string text_of(app::Millis at) { return fhir::format_utc(fhir::Instant{std::chrono::seconds{at / 1000}}); }

std::string value_of(const std::string& query, const std::string& name) {
  const auto at = query.find(name + "=");
  if (at == std::string::npos) return "";
  const auto from = at + name.size() + 1;
  return query.substr(from, query.find('&', from) - from);
}

json::Value parsed(const std::string& text) {
  auto value = json::parse(text);
  if (value.has_error()) throw std::runtime_error("no JSON: " + text);
  return std::move(*value);
}

}  // namespace

transport::TimerId VirtualTimers::after(std::chrono::nanoseconds real_time, std::function<void()> then) {
  waiting[{now + std::max(real_time, std::chrono::nanoseconds{0}), ++last}] = std::move(then);
  return transport::TimerId{last};
}
void VirtualTimers::cancel(transport::TimerId timer) {
  std::erase_if(waiting, [&](const auto& one) { return one.first.second == static_cast<std::uint64_t>(timer); });
}
std::function<void()> VirtualTimers::take_due(std::chrono::nanoseconds until) {
  if (waiting.empty() || waiting.begin()->first.first > until) return {};
  now = std::max(now, waiting.begin()->first.first);
  auto then = std::move(waiting.begin()->second);
  waiting.erase(waiting.begin());
  return then;
}

bool StepExecutor::step() {
  if (queue.empty()) return false;
  const auto work = std::move(queue.front());
  queue.pop_front();
  work();
  return true;
}

app::Millis JumpingClock::now() {
  const app::Millis read = start_ + std::chrono::duration_cast<std::chrono::milliseconds>(timers_.now).count() + offset;
  return last_ = std::max(last_, read);
}

void FakeRecord::send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) {
  auto outcome = answer(request);
  executor->post([done = std::move(done), outcome = std::move(outcome)] { done(outcome); });
}

transport::Outcome FakeRecord::answer(const transport::OutgoingRequest& request) {
  if (down) return transport::Failure{transport::FailureKind::refused, "nobody listens"};
  const std::string path = request.url.size() > kBase.size() ? request.url.substr(kBase.size() + 1) : "";
  log.push_back(request.method + " " + path);
  if (const auto fixed = answers.find(path); fixed != answers.end()) return respond(fixed->second, json::Value::object({{"resourceType", "OperationOutcome"}}));
  if (path == "metadata") {
    json::Value one = json::Value::object({{"type", "Subscription"}, {"interaction", json::Value::array({json::Value::object({{"code", "create"}})})}});
    if (by_topic) one.set("supportedProfile", json::Value::array({"http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/backport-subscription"}));
    json::Value list = json::Value::array();
    if (takes_subscriptions) list.push(std::move(one));
    return respond(200, json::Value::object({{"resourceType", "CapabilityStatement"}, {"fhirVersion", fhir_version},
                                             {"rest", json::Value::array({json::Value::object({{"resource", std::move(list)}})})}}));
  }
  if (path.find('$') != std::string::npos) return operation(path);
  if (request.method == "GET" && path.find('?') != std::string::npos) return search(path);
  if (request.method == "GET") {
    const auto found = resources.find(path);
    return found == resources.end() ? respond(404, json::Value::object({{"resourceType", "OperationOutcome"}})) : respond(200, found->second);
  }
  auto written = write(request, path);
  if (lost_answers > 0) {
    --lost_answers;
    return transport::Failure{transport::FailureKind::maybe_sent, "the connection broke"};
  }
  return written;
}

transport::Response FakeRecord::respond(int status, const json::Value& body) const {
  transport::Response response{status, {{"Date", date_header(clock)}, {"Content-Type", "application/fhir+json"}}, body.is_null() ? "" : json::write(body)};
  if (body.has("id")) response.headers.add("Location", kBase + "/" + std::string(body["resourceType"].text()) + "/" + std::string(body["id"].text()));
  return response;
}

transport::Response FakeRecord::search(const std::string& path) const {
  const std::string type = path.substr(0, path.find('?'));
  if (type == "Subscription" && (!takes_subscriptions || (!searches_by_tag && path.find("_tag") != std::string::npos))) return respond(400, json::Value::object({{"resourceType", "OperationOutcome"}}));
  if (wants_category.contains(type) && value_of(path, "category").empty()) return respond(400, json::Value::object({{"resourceType", "OperationOutcome"}}));
  if (has_subject_index && type == "Procedure" && value_of(path, "patient").empty() && path.find("_lastUpdated") != std::string::npos) return respond(400, json::Value::object({{"resourceType", "OperationOutcome"}}));
  const auto tag = value_of(path, "_tag");
  const auto patient = value_of(path, "patient");
  json::Value entries = json::Value::array();
  const bool hides = hides_changed.contains(type) && path.find("_lastUpdated") != std::string::npos;
  for (const auto& [key, resource] : resources) {
    if (!key.starts_with(type + "/") || hides || never_found.contains(key)) continue;
    if (hides_dated.contains(type) && (path.find("&date=") != std::string::npos || path.find("&effective-time=") != std::string::npos)) continue;
    const std::string code = tag.substr(tag.find("%7C") == std::string::npos ? tag.size() : tag.find("%7C") + 3);
    if (!tag.empty() && resource["meta"]["tag"].at(0)["code"].text() != code) continue;
    if (const auto category = value_of(path, "category"); !category.empty() && category.substr(category.find("%7C") == std::string::npos ? 0 : category.find("%7C") + 3) != resource["category"].at(0)["coding"].at(0)["code"].text()) continue;
    if (!patient.empty() && !overlooks_patient.contains(type) && resource["subject"]["reference"].text() != "Patient/" + patient) continue;
    entries.push(json::Value::object({{"resource", resource}}));
  }
  if (keeps_back.contains(type) && !patient.empty()) {
    auto outcome = json::Value::object({{"resourceType", "OperationOutcome"}, {"issue", json::Value::array({json::Value::object({{"severity", "warning"}, {"code", "suppressed"}})})}});
    entries.push(json::Value::object({{"resource", std::move(outcome)}, {"search", json::Value::object({{"mode", "outcome"}})}}));
  }
  json::Value bundle = json::Value::object({{"resourceType", "Bundle"}, {"type", "searchset"}});
  bundle.set_present("entry", std::move(entries));
  return respond(200, bundle);
}

transport::Response FakeRecord::write(const transport::OutgoingRequest& request, const std::string& path) {
  const auto refuse = [&](int status) { return respond(status, json::Value::object({{"resourceType", "OperationOutcome"}})); };
  if (!path.starts_with("Subscription") || !takes_subscriptions) return refuse(405);
  const auto held = resources.find(path);
  if (request.method != "POST" && held == resources.end()) return refuse(404);
  if (request.method == "DELETE") {
    if (!can_delete) return refuse(403);
    resources.erase(held);
    return {204, {{"Date", date_header(clock)}}, ""};
  }
  json::Value body = parsed(request.body);
  const auto match = request.headers.get("If-Match");
  if (request.method == "PUT" && match && *match != "W/\"" + std::string(held->second["meta"]["versionId"].text()) + "\"") return refuse(412);
  const std::string id = request.method == "POST" ? "s" + std::to_string(++made_) : std::string(body["id"].text());
  const int version = request.method == "POST" ? 1 : std::stoi("0" + std::string(held->second["meta"]["versionId"].text())) + 1;
  body.set("id", id);
  json::Value meta = body["meta"];
  meta.set("versionId", std::to_string(version));
  meta.set("lastUpdated", text_of(clock));
  body.set("meta", std::move(meta));
  if (longest_life > 0) body.set("end", text_of(clock + longest_life));
  if (json::Value channel = body["channel"]; !keeps_extensions && channel.has("extension")) {
    channel.erase("extension");
    body.set("channel", std::move(channel));
  }
  if (activates && body["status"].text() == "requested") body.set("status", "active");
  resources["Subscription/" + id] = body;
  return respond(request.method == "POST" ? 201 : 200, body);
}

json::Value FakeRecord::notice(const std::string& id, const std::string& type, std::int64_t first, std::int64_t last) const {
  const auto told = events.find(id);
  const auto total = told == events.end() ? 0 : static_cast<std::int64_t>(told->second.size());
  json::Value status = json::Value::object({{"resourceType", "SubscriptionStatus"}, {"type", type}, {"status", resources.at("Subscription/" + id)["status"]},
                                            {"eventsSinceSubscriptionStart", std::to_string(total)}, {"subscription", json::Value::object({{"reference", "Subscription/" + id}})}});
  json::Value list = json::Value::array();
  for (std::int64_t n = std::max<std::int64_t>(1, first); n <= std::min(last, total); ++n)
    list.push(json::Value::object({{"eventNumber", std::to_string(n)}, {"focus", json::Value::object({{"reference", kBase + "/" + told->second[static_cast<std::size_t>(n - 1)]}})}}));
  status.set_present("notificationEvent", std::move(list));
  return status;
}

transport::Response FakeRecord::operation(const std::string& path) const {
  const auto refused = respond(404, json::Value::object({{"resourceType", "OperationOutcome"}}));
  json::Value entries = json::Value::array();
  if (path.starts_with("Subscription/$status")) {
    if (!has_status || !has_type_status) return refused;
    for (const auto& [key, resource] : resources)
      if (key.starts_with("Subscription/") && (path + "&").find("id=" + std::string(resource["id"].text()) + "&") != std::string::npos)
        entries.push(json::Value::object({{"resource", notice(std::string(resource["id"].text()), "query-status", 1, 0)}}));
    return respond(200, json::Value::object({{"resourceType", "Bundle"}, {"type", "searchset"}, {"entry", std::move(entries)}}));
  }
  const std::string id = path.substr(13, path.find('/', 13) - 13);
  const bool events_wanted = path.find("$events") != std::string::npos;
  if (!resources.contains("Subscription/" + id) || (events_wanted ? !has_events : !has_status)) return refused;
  const auto first = events_wanted ? std::stoll(value_of(path, "eventsSinceNumber")) : 1, last = events_wanted ? std::stoll(value_of(path, "eventsUntilNumber")) : 0;
  entries.push(json::Value::object({{"resource", notice(id, events_wanted ? "query-event" : "query-status", first, last)}}));
  return respond(200, json::Value::object({{"resourceType", "Bundle"}, {"type", "history"}, {"entry", std::move(entries)}}));
}

std::size_t FakeRecord::count(const std::string& start) const {
  return static_cast<std::size_t>(std::count_if(log.begin(), log.end(), [&](const std::string& line) { return line.starts_with(start); }));
}

std::vector<json::Value> FakeRecord::subscriptions() const {
  std::vector<json::Value> all;
  for (const auto& [key, resource] : resources)
    if (key.starts_with("Subscription/")) all.push_back(resource);
  return all;
}

void FakeRecord::put(const std::string& text) {
  const json::Value resource = parsed(text);
  resources[std::string(resource["resourceType"].text()) + "/" + std::string(resource["id"].text())] = resource;
}

SubscribedDaemon::SubscribedDaemon(const std::string& folder, FakeRecord& record, app::Millis at, const std::function<void(profile::Configuration&)>& configure) {
  auto loaded = app::load_offline_rules({}, SOURCE_DIR);
  if (!loaded.rules) throw std::runtime_error("the shipped rules do not load: " + loaded.faults.front().text);
  rules = std::move(*loaded.rules);
  rules.installation = "simulated";
  auto& c = rules.configuration;
  c.limits.pending_events = 100'000;
  c.limits.body_bytes = 1 << 26;
  c.limits.settle_unknown_seconds = 150;
  c.limits.record_timeout_seconds = 60;
  c.limits.longest_backoff_seconds = 300;
  c.listen.secret_header = "X-Sender-Key";
  c.record.emplace();
  c.record->base_url = kBase;
  c.record->purpose = "test";
  c.record->mode = "live";
  c.record->source = "record";
  c.site.time_zone = "Europe/Berlin";
  c.subscriptions = {"plain", "http://127.0.0.1:8/fhir", {"Procedure?"}, {}, "form", "", 60, 7};
  if (configure) configure(c);
  store::SqliteOptions options;
  options.path = folder + "/aftersheath.db";
  auto opened = store::open_sqlite(options);
  if (opened.has_error()) throw std::runtime_error(opened.error().text);
  store = std::move(*opened);
  clock = std::make_unique<JumpingClock>(timers, at, store->last_clock_reading().value().value_or(0));
  record.executor = &executor;
  engine = std::make_unique<app::Engine>(app::EngineParts{*store, *clock, executor, timers, random, &record, &chart, rules, app::silent_log()});
  engine->start([this](const std::string& why) { fatal = why; });
  intake = app::intake_handler(*engine, rules, "2026-03-02T00:00:00Z");
}

SubscribedDaemon::~SubscribedDaemon() {
  executor.queue.clear();
  engine.reset();
  store.reset();
}

void SubscribedDaemon::run() {
  for (int n = 0; n < 1'000'000; ++n)
    if (!executor.step()) return;
  throw std::runtime_error("it never comes to rest");
}

void SubscribedDaemon::pass(std::chrono::seconds time) {
  const auto until = timers.now + time;
  run();
  while (const auto then = timers.take_due(until)) {
    then();
    run();
  }
  timers.now = until;
  run();
}

transport::Response SubscribedDaemon::call(const json::Value& subscription, const std::string& method, const std::string& below, const std::string& body, bool with_secret) {
  const std::string endpoint(subscription["channel"]["endpoint"].text());
  auto answer = std::make_shared<transport::Response>(transport::Response{0, {}, ""});
  transport::Request request;
  request.method = method;
  request.target = endpoint.substr(endpoint.find("/fhir/hook")) + below;
  if (!body.empty()) request.headers.add("Content-Type", "application/fhir+json; fhirVersion=4.0");
  const std::string header(subscription["channel"]["header"].at(0).text());
  if (with_secret) request.headers.add(header.substr(0, header.find(':')), header.substr(header.find(':') + 2));
  request.body = body;
  intake(std::move(request), transport::Reply([answer](transport::Response response) { *answer = std::move(response); }));
  run();
  return *answer;
}

int SubscribedDaemon::push(const json::Value& subscription, std::int64_t number, const std::string& focus, const std::string& type) {
  const std::string id(subscription["id"].text());
  const std::string event = focus.empty() ? "" : fmt::format(R"(,{{"name":"notification-event","part":[{{"name":"event-number","valueString":"{0}"}},
    {{"name":"timestamp","valueInstant":"2026-03-02T13:00:0{1}Z"}},{{"name":"focus","valueReference":{{"reference":"{2}/{3}"}}}}]}})", number, number % 10, kBase, focus);
  return call(subscription, "POST", "", fmt::format(R"({{"resourceType":"Bundle","type":"history","entry":[{{"resource":{{"resourceType":"Parameters","parameter":[
    {{"name":"subscription","valueReference":{{"reference":"{0}/Subscription/{1}"}}}},{{"name":"status","valueCode":"active"}},{{"name":"type","valueCode":"{2}"}},
    {{"name":"events-since-subscription-start","valueString":"{3}"}}{4}]}},"request":{{"method":"GET","url":"Subscription/{1}/$status"}}}}]}})", kBase, id, type, number, event)).status;
}

report::Status::Subscription SubscribedDaemon::status_of(const std::string& subject) {
  const auto status = engine->status();
  for (const auto& one : status.subscriptions->list)
    if (one.subject == subject) return one;
  return {};
}

bool SubscribedDaemon::holds(const std::string& type, const std::string& id) {
  const auto fact = store->current("", type, id);
  return fact.has_value() && *fact;
}

bool SubscribedDaemon::alarmed(const std::string& words) {
  for (const auto& alarm : engine->status().alarms)
    if (alarm.find(words) != std::string::npos) return true;
  return false;
}

}  // namespace app_test
