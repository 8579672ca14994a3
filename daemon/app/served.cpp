#include "app/served.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>

#include "app/journal_event.h"
#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir_read/intake.h"
#include "fhir_read/search_query.h"
#include "fhir_write/lookup.h"
#include "fhir_write/operation_outcome.h"
#include "fhir_write/searchset.h"
#include "fhir_write/verify.h"

namespace app {
namespace {

using json::Value;
using store::CurrentFact;
using store::Result;
using transport::Response;

constexpr std::size_t kOnePage = 500;

Response json_answer(int status, const Value& body) { return {status, {{"Content-Type", "application/fhir+json; charset=utf-8"}}, json::write(body)}; }
Response refusal(int status, std::string_view type, std::string_view text) { return json_answer(status, fhir_write::operation_outcome(type, text)); }
Response store_fault(const store::Error& error) { return refusal(500, "exception", "the store: " + error.text); }

std::string etag_of(const std::string& version) { return "W/\"" + version + "\""; }

Response resource_answer(int status, const CurrentFact& fact) {
  Response response{status, {{"Content-Type", "application/fhir+json; charset=utf-8"}, {"ETag", etag_of(fact.version_id)}}, fact.body};
  if (status == 201) response.headers.add("Location", fact.type + "/" + fact.id + "/_history/" + fact.version_id);
  return response;
}

std::int64_t number_of(const std::string& version) {
  std::int64_t number = 0;
  std::from_chars(version.data(), version.data() + version.size(), number);
  return number;
}

/// W/"3", "3" and 3 are the same version; the weak form is what we give.
bool is_version(std::string_view if_match, const std::string& version) {
  if (if_match.starts_with("W/")) if_match.remove_prefix(2);
  if (if_match.size() >= 2 && if_match.front() == '"' && if_match.back() == '"') if_match = if_match.substr(1, if_match.size() - 2);
  return if_match == version;
}

}  // namespace

const std::vector<std::string>& served_types() {
  static const std::vector<std::string> all{"CarePlan", "DetectedIssue", "GuidanceResponse", "Provenance", "Task"};
  return all;
}
bool is_served_type(std::string_view type) { return std::ranges::find(served_types(), type) != served_types().end(); }

bool Served::holds(std::string_view type, std::string_view id) {
  const auto held = store_.current(source_, type, id);
  return held.has_value() && *held && !(*held)->deleted;
}

Result<void> Served::keep(store::Store& store, store::Item item) {
  auto body = json::parse(item.body);
  if (body.has_error()) return store::Error{store::ErrorKind::logic, "what is to be served is not JSON"};
  const auto held = store.current(source_, item.type, item.server_id);
  if (held.has_error()) return held.error();
  const auto done = put(store, std::move(*body), item.type, item.server_id, *held ? number_of((*held)->version_id) + 1 : 1);
  if (done.has_error()) return done.error();
  item.etag = done->etag;
  item.body = json::write(done->resource);
  return store.put_item(item);
}

Result<void> Served::remove(store::Store& store, const std::string& case_key) {
  const auto items = store.items_of_case(case_key);
  if (items.has_error()) return items.error();
  const auto remove_one = [&](CurrentFact one) {
    one.deleted = true;
    one.body.clear();
    return store.put_current(one, {});
  };
  std::vector<std::string> references;
  for (const store::Item& item : *items) {
    const auto held = store.current(source_, item.type, item.server_id);
    if (held.has_error()) return held.error();
    references.push_back(item.type + "/" + item.server_id);
    if (*held && !(*held)->deleted)
      if (auto gone = remove_one(**held); gone.has_error()) return gone;
  }
  const auto accounts = of_type("Provenance", "");
  if (accounts.has_error()) return accounts.error();
  for (const CurrentFact& one : *accounts) {
    const auto body = json::parse(one.body);
    const bool of_case = body.has_value() && std::ranges::any_of(references, [&](const std::string& reference) { return fhir_write::is_about(*body, reference); });
    if (!of_case) continue;
    if (auto gone = remove_one(one); gone.has_error()) return gone;
  }
  return {};
}

namespace {

constexpr std::array kKept{"Binary", "CarePlan", "Communication", "DetectedIssue", "DocumentReference", "GuidanceResponse", "Observation", "Procedure", "Provenance", "QuestionnaireResponse", "Task"};

bool stands(const std::optional<CurrentFact>& one) { return one && !one->deleted; }

}  // namespace

Result<std::string> Served::as_lines() {
  std::string lines;
  for (const char* type : kKept) {
    const auto all = of_type(type, "");
    if (all.has_error()) return all.error();
    for (const CurrentFact& one : *all)
      if (!one.deleted) lines += one.body + "\n";
  }
  return lines;
}

Result<void> Served::remove_all(store::Store& store) {
  for (const char* type : kKept) {
    auto all = of_type(type, "");
    if (all.has_error()) return all.error();
    for (CurrentFact& one : *all) {
      one.deleted = true;
      one.body.clear();
      if (auto gone = store.put_current(one, {}); gone.has_error()) return gone.error();
    }
  }
  return {};
}

Response Served::as_record(const ServedRequest& request) {
  if (request.path.empty()) return transaction(request);
  const auto question = std::min(request.path.find('?'), request.path.size());
  const std::string address = request.path.substr(0, question), query = request.path.substr(std::min(question + 1, request.path.size()));
  const auto slash = std::min(address.find('/'), address.size());
  const std::string type = address.substr(0, slash), id = address.substr(std::min(slash + 1, address.size()));
  if (request.method == "GET") return id.empty() ? search(type, query, request.base) : read(type, id);
  if (request.method == "POST" && id.empty()) return create(request, type);
  if (request.method == "PUT" && !id.empty()) return update(request, type, id);
  return refusal(405, "not-supported", "this is not done here");
}

Response Served::to_others(const ServedRequest& request, bool& changed) {
  changed = false;
  const std::string address = request.path.substr(0, request.path.find('?'));
  if (request.method == "PUT" && address.starts_with("Task/")) return change_task(request, address.substr(5), changed);
  if (request.method == "GET") return as_record(request);
  return refusal(405, "not-supported", "what is served here is read, and its Tasks are changed by PUT");
}

Response Served::read(const std::string& type, const std::string& id) {
  const auto held = store_.current(source_, type, id);
  if (held.has_error()) return store_fault(held.error());
  if (!*held) return refusal(404, "not-found", fmt::format("{}/{} is not served here", type, id));
  if ((*held)->deleted) return refusal(410, "deleted", fmt::format("{}/{} was removed some time after the end of its case", type, id));
  return resource_answer(200, **held);
}

Result<std::vector<CurrentFact>> Served::of_type(const std::string& type, const std::string& patient) {
  if (!patient.empty()) {
    auto all = store_.current_of_patient(source_, patient);
    if (all.has_error()) return all.error();
    std::erase_if(*all, [&](const CurrentFact& one) { return one.type != type; });
    return all;
  }
  std::vector<CurrentFact> all;
  for (std::string after;;) {
    auto page = store_.current_of_type(source_, type, kOnePage, after);
    if (page.has_error()) return page.error();
    const bool last = page->size() < kOnePage;
    if (!page->empty()) after = page->back().id;
    std::ranges::move(*page, std::back_inserter(all));
    if (last) return all;
  }
}

/// Our own ids are the identities.
Result<std::optional<CurrentFact>> Served::by_identity(const std::string& type, const std::string& identity) { return store_.current(source_, type, identity); }

Response Served::search(const std::string& type, const std::string& text, const std::string& base) {
  const auto query = fhir_read::parse_search(type, text, base);
  if (query.has_error()) return refusal(400, "not-supported", query.error());
  const auto held = of_type(type, fhir_read::patient_of(*query));
  if (held.has_error()) return store_fault(held.error());
  std::vector<std::pair<std::string, Value>> found;
  for (const CurrentFact& one : *held)
    if (auto resource = json::parse(one.body); resource.has_value() && fhir_read::matches(*query, *resource)) found.emplace_back(fhir_read::order_key(*query, *resource), std::move(*resource));
  std::ranges::sort(found, {}, &std::pair<std::string, Value>::first);
  const std::size_t total = found.size();
  std::erase_if(found, [&](const auto& one) { return !query->after.empty() && one.first <= query->after; });
  const std::string self = base + "/" + type + (query->asked.empty() ? "" : "?" + query->asked);
  std::string next;
  if (query->count == 0) found.clear();
  if (found.size() > query->count) {
    found.resize(query->count);
    next = self + (query->asked.empty() ? "?" : "&") + "_after=" + fhir_read::percent_encoded(found.back().first);
  }
  std::vector<Value> page;
  for (auto& [key, resource] : found) page.push_back(std::move(resource));
  return json_answer(200, fhir_write::searchset(base, self, next, total, page));
}

Result<Served::Put> Served::put(store::Store& store, Value resource, const std::string& type, const std::string& id, std::int64_t version) {
  const std::string number = std::to_string(version), at = fhir::format_utc(fhir::Instant{std::chrono::seconds{clock_.now() / 1000}});
  Put done{type + "/" + id + "/_history/" + number, etag_of(number), id, fhir_write::in_version(std::move(resource), id, number, at), version == 1};
  CurrentFact row;
  row.source = source_, row.type = type, row.id = id, row.version_id = number, row.last_updated = at;
  row.body = json::write(done.resource);
  row.patient = fhir_read::subject_of(done.resource).patient;
  row.content_hash = fhir::sha256_hex(row.body);
  if (auto kept = store.put_current(row, {}); kept.has_error()) return kept.error();
  return done;
}

Response Served::create(const ServedRequest& request, const std::string& type) {
  auto body = json::parse(request.body);
  const auto identity = body.has_value() ? fhir_write::identity_of_ours(*body) : std::nullopt;
  if (!identity) return refusal(422, "required", "only what is ours is kept here");
  std::int64_t version = 1;
  if (const auto held = by_identity(type, *identity); held.has_error()) return store_fault(held.error());
  else if (stands(*held)) return resource_answer(200, **held);
  else if (*held) version = number_of((*held)->version_id) + 1;  // shadow mode begun anew
  const auto done = store_.transaction(clock_.now(), [&](store::Store& store) -> Result<void> {
    auto one = put(store, std::move(*body), type, *identity, version);
    return one.has_error() ? Result<void>(one.error()) : Result<void>();
  });
  if (done.has_error()) return store_fault(done.error());
  const auto stands = store_.current(source_, type, *identity);
  return stands.has_value() && *stands ? resource_answer(201, **stands) : refusal(500, "exception", "what was put in place is not there");
}

Response Served::update(const ServedRequest& request, const std::string& type, const std::string& id) {
  auto body = json::parse(request.body);
  if (body.has_error()) return refusal(400, "structure", "not JSON");
  const auto held = store_.current(source_, type, id);
  if (held.has_error()) return store_fault(held.error());
  if (!*held) return refusal(404, "not-found", "not served here");
  if (!is_version(request.headers.get("If-Match").value_or(""), (*held)->version_id)) return refusal(412, "conflict", "another version stands");
  const auto done = store_.transaction(clock_.now(), [&](store::Store& store) -> Result<void> {
    auto one = put(store, std::move(*body), type, id, number_of((*held)->version_id) + 1);
    return one.has_error() ? Result<void>(one.error()) : Result<void>();
  });
  return done.has_error() ? store_fault(done.error()) : read(type, id);
}

Result<Served::Put> Served::entry(store::Store& store, const Value& one, Fault& fault) {
  const store::Error stop{store::ErrorKind::logic, "refused"};
  const std::string type(one["resource"]["resourceType"].text()), url(one["request"]["url"].text());
  if (source_ == kServedSource && !is_served_type(type)) return fault = {422, "not-supported", type + " is not kept here"}, stop;
  if (one["request"]["method"].text() == "PUT") {
    const std::string id = url.substr(url.find('/') + 1);
    const auto held = store.current(source_, type, id);
    if (held.has_error()) return held.error();
    if (!*held) return fault = {404, "not-found", url + " is not served here"}, stop;
    if (!is_version(one["request"]["ifMatch"].text(), (*held)->version_id)) return fault = {412, "conflict", url + " stands in another version"}, stop;
    return put(store, one["resource"], type, id, number_of((*held)->version_id) + 1);
  }
  const std::string id = fhir_write::identity_in(one);
  if (id.empty()) return fault = {422, "required", "only what is ours is kept here"}, stop;
  const auto held = store.current(source_, type, id);
  if (held.has_error()) return held.error();
  if (stands(*held)) return fault = {412, "duplicate", type + "/" + id + " is there already"}, stop;
  return put(store, one["resource"], type, id, *held ? number_of((*held)->version_id) + 1 : 1);
}

Response Served::transaction(const ServedRequest& request) {
  auto bundle = json::parse(request.body);
  if (bundle.has_error() || (*bundle)["type"].text() != "transaction") return refusal(400, "structure", "no transaction");
  // Where everything will stand is known beforehand: ids are identities.
  std::vector<fhir_write::Placed> places;
  for (const Value& one : (*bundle)["entry"].items())
    if (one["request"]["method"].text() == "POST") places.push_back({fhir_write::identity_in(one), std::string(one["resource"]["resourceType"].text()), fhir_write::identity_in(one), "1", "", 201});
  std::vector<fhir_write::Done> all;
  Fault fault{500, "exception", "the store could not keep it"};
  const auto done = store_.transaction(clock_.now(), [&](store::Store& store) -> Result<void> {
    for (Value& one : bundle->find("entry")->items()) {
      one.set("resource", fhir_write::resolved(one["resource"], places));
      auto kept = entry(store, one, fault);
      if (kept.has_error()) return kept.error();
      all.push_back({kept->created ? "201 Created" : "200 OK", kept->location, kept->etag, std::move(kept->resource)});
    }
    return {};
  });
  if (done.has_error()) return done.error().kind == store::ErrorKind::logic ? refusal(fault.status, fault.type, fault.text) : store_fault(done.error());
  return json_answer(200, fhir_write::transaction_response(all));
}

Response Served::change_task(const ServedRequest& request, const std::string& id, bool& changed) {
  const auto held = store_.current(source_, "Task", id);
  if (held.has_error()) return store_fault(held.error());
  if (!*held) return refusal(404, "not-found", "Task/" + id + " is not served here");
  if ((*held)->deleted) return refusal(410, "deleted", "Task/" + id + " was removed some time after the end of its case");
  const auto if_match = request.headers.get("If-Match");
  if (!if_match) return refusal(428, "required", "If-Match is needed: the ETag of the Task as it was read");
  if (!is_version(*if_match, (*held)->version_id)) return refusal(412, "conflict", "the Task has changed meanwhile: read it again");
  auto body = json::parse(request.body);
  if (body.has_error()) return refusal(400, "structure", "not JSON: " + body.error().text);
  if ((*body)["resourceType"].text() != "Task") return refusal(422, "invariant", "a Task is needed");
  if (const auto own = (*body)["id"].text(); !own.empty() && own != id) return refusal(422, "invariant", "the address and the Task differ in their id");
  const auto stands = json::parse((*held)->body);
  if (const std::string fault = fhir_write::changed_for_good(*stands, *body); !fault.empty()) return refusal(422, "business-rule", fault);
  body->set("meta", (*stands)["meta"]);  // tag and labels are ours
  const auto done = store_.transaction(clock_.now(), [&](store::Store& store) -> Result<void> {
    auto one = put(store, std::move(*body), "Task", id, number_of((*held)->version_id) + 1);
    if (one.has_error()) return one.error();
    std::vector<store::NewEvent> events{journal_event("", "PUT", "Task", id, std::string(one->resource["meta"]["versionId"].text()), json::write(one->resource),
                                                      std::string(request.headers.get("X-Request-Id").value_or("")))};
    events.front().received_at = clock_.now();
    const auto kept = store.append(events);
    return kept.has_error() ? Result<void>(kept.error()) : Result<void>();
  });
  if (done.has_error()) return done.error().kind == store::ErrorKind::full ? refusal(503, "throttled", "no room to keep the change; nothing was taken") : store_fault(done.error());
  changed = true;
  Response answer = read("Task", id);
  if (request.headers.get("Prefer").value_or("").find("return=minimal") != std::string_view::npos) answer.body.clear();
  return answer;
}

}  // namespace app
