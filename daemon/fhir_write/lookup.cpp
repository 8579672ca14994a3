#include "fhir_write/lookup.h"

#include <algorithm>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir/reference.h"

namespace fhir_write {

using json::Value;

std::vector<Lookup> lookups(const Value& request_bundle) {
  std::vector<Lookup> list;
  for (const Value& entry : request_bundle["entry"].items()) {
    const Value& resource = entry["resource"];
    Lookup one;
    one.type = resource["resourceType"].text();
    one.identity = own_identity(resource).value_or("");
    one.created = entry["request"]["method"].text() == "POST";
    one.if_match = entry["request"]["ifMatch"].text();
    one.status = resource["status"].text();
    if (!one.created) one.query = entry["request"]["url"].text();
    else if (!one.identity.empty()) one.query = one.type + "?identifier=" + std::string(fhir::item_identifier_system) + "%7C" + one.identity;
    list.push_back(std::move(one));
  }
  return list;
}

std::string identity_in(const Value& entry) {
  if (const auto own = own_identity(entry["resource"])) return *own;
  constexpr std::string_view prefix = "urn:uuid:";
  const auto url = entry["fullUrl"].text();
  return std::string(url.starts_with(prefix) ? url.substr(prefix.size()) : "");
}

namespace {

std::optional<Placed> placed_from(const Value& resource, const std::string& identity) {
  if (own_identity(resource) != identity) return std::nullopt;
  const std::string version(resource["meta"]["versionId"].text());
  return Placed{identity, std::string(resource["resourceType"].text()), std::string(resource["id"].text()), version, "W/\"" + version + "\"", 200};
}

}  // namespace

std::optional<Placed> found(const Value& answer, const std::string& identity) {
  if (answer["resourceType"].text() != "Bundle") return placed_from(answer, identity);
  for (const Value& entry : answer["entry"].items())
    if (auto one = placed_from(entry["resource"], identity)) return one;
  return std::nullopt;
}

void add_found(std::vector<Placed>& all, const Placed& one, const Value& request_bundle, const Value& answer) {
  all.push_back(one);
  if (one.type != "DocumentReference") return;
  const auto with_identity = [&](const Value& resource) { return own_identity(resource) == one.identity; };
  const Value* there = with_identity(answer) ? &answer : nullptr;
  for (const Value& entry : answer["entry"].items())
    if (with_identity(entry["resource"])) there = &entry["resource"];
  for (const Value& entry : request_bundle["entry"].items()) {
    if (!there || !with_identity(entry["resource"])) continue;
    const auto sent = entry["resource"]["content"].items(), stands = (*there)["content"].items();
    for (std::size_t i = 0; i < std::min(sent.size(), stands.size()); ++i) {
      const auto urn = sent[i]["attachment"]["url"].text();
      const auto target = fhir::parse_reference(stands[i]["attachment"]["url"].text());
      constexpr std::string_view prefix = "urn:uuid:";
      if (urn.starts_with(prefix) && target.type == "Binary" && !target.id.empty())
        all.push_back({std::string(urn.substr(prefix.size())), "Binary", target.id, "1", "W/\"1\"", 200});
    }
  }
}

Value stale_update(Value resource, const std::string& id, std::string etag) {
  // Hexadecimal digits become 0: "7" and UUIDs keep their form. What is zeros already gets a one at the end.
  const std::string before = etag;
  for (char& c : etag)
    if (const bool digit = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); digit) c = '0';
  if (const auto last = etag.rfind('0'); etag == before && last != std::string::npos) etag[last] = '1';
  const std::string type(resource["resourceType"].text());
  resource.set("id", id);
  Value entry = Value::object({{"resource", std::move(resource)}, {"request", Value::object({{"method", "PUT"}, {"url", type + "/" + id}, {"ifMatch", etag}})}});
  return Value::object({{"resourceType", "Bundle"}, {"type", "transaction"}, {"entry", Value::array({std::move(entry)})}});
}

bool as_we_sent(const Value& sent, const Value& stands) {
  if (sent["resourceType"].text() != "Task" || stands["resourceType"].text() != "Task") return true;
  for (const char* element : {"note", "output", "executionPeriod", "businessStatus"})
    if (sent.has(element) != stands.has(element) || sent[element].size() != stands[element].size()) return false;
  return sent["status"].text() == stands["status"].text() && sent["owner"]["reference"].text() == stands["owner"]["reference"].text();
}

namespace {

bool same(const Value& a, const Value& b) {
  if (a.is_number() && b.is_number()) return std::stod(std::string(a.digits())) == std::stod(std::string(b.digits()));
  if (a.is_array() && b.is_array()) return a.size() == b.size() && std::ranges::equal(a.items(), b.items(), same);
  if (!a.is_object() || !b.is_object()) return a == b;
  return a.size() == b.size() && std::ranges::all_of(a.members(), [&](const json::Member& one) {
    const Value* other = b.find(one.name);
    return other && same(one.value, *other);
  });
}

}  // namespace

bool same_content(const Value& sent, const Value& stands) {
  const auto bare = [](Value resource) {
    for (const char* element : {"id", "meta", "text"}) resource.erase(element);
    return resource;
  };
  return same(bare(sent), bare(stands));
}

Value resource_of(const Value& answer, const std::string& identity) {
  if (own_identity(answer) == identity) return answer;
  for (const Value& entry : answer["entry"].items())
    if (own_identity(entry["resource"]) == identity) return entry["resource"];
  return {};
}

Value rebuilt_response(const Value& request_bundle, const std::vector<Placed>& found, const std::map<std::string, Value>& stands) {
  Value entries = Value::array();
  for (const Value& entry : request_bundle["entry"].items()) {
    const std::string identity = identity_in(entry);
    const auto known = std::find_if(found.begin(), found.end(), [&](const Placed& one) { return !identity.empty() && one.identity == identity; });
    Value response = Value::object({{"status", "200"}});
    if (known != found.end()) {
      response.set("location", known->type + "/" + known->id + "/_history/" + known->version);
      response.set("etag", known->etag);
    } else {
      response.set("location", std::string(entry["resource"]["resourceType"].text()) + "/looked-up/_history/1");
    }
    Value one = Value::object({{"response", std::move(response)}});
    if (const auto there = stands.find(identity); there != stands.end()) one.set("resource", there->second);
    entries.push(std::move(one));
  }
  return Value::object({{"resourceType", "Bundle"}, {"type", "transaction-response"}, {"entry", std::move(entries)}});
}

std::optional<std::string> identity_of_ours(const Value& resource) {
  if (auto own = own_identity(resource)) return own;
  for (const Value& tag : resource["meta"]["tag"].items())
    if (tag["system"].text() == fhir::item_identifier_system) return std::string(tag["code"].text());
  return std::nullopt;
}

std::optional<Placed> found_by_tag(const Value& searchset, const std::string& identity) {
  for (const Value& entry : searchset["entry"].items())
    for (const Value& tag : entry["resource"]["meta"]["tag"].items())
      if (tag["system"].text() == fhir::item_identifier_system && tag["code"].text() == identity) {
        const Value& there = entry["resource"];
        const std::string version(there["meta"]["versionId"].text());
        return Placed{identity, std::string(there["resourceType"].text()), std::string(there["id"].text()), version, "W/\"" + version + "\"", 200};
      }
  return std::nullopt;
}

Value by_identifier(Value resource, const std::vector<std::string>& elsewhere) {
  for (auto& item : resource.items()) item = by_identifier(std::move(item), elsewhere);
  for (auto& [name, value] : resource.members()) value = by_identifier(std::move(value), elsewhere);
  const auto target = resource.is_object() ? fhir::parse_reference(resource["reference"].text()) : fhir::Reference{};
  if (std::ranges::find(elsewhere, target.type) == elsewhere.end() || target.id.empty()) return resource;
  resource.erase("reference");
  resource.set("type", target.type);
  resource.set("identifier", Value::object({{"system", fhir::item_identifier_system}, {"value", target.id}}));
  return resource;
}

bool is_about(const Value& provenance, const std::string& reference) {
  return std::ranges::any_of(provenance["target"].items(), [&](const Value& one) { return one["reference"].text() == reference; });
}

std::optional<clinical::Instant> authored(const Value& task) {
  const auto at = fhir::read_time(task["authoredOn"].text());
  return at.has_value() ? std::optional(at->latest) : std::nullopt;
}

}  // namespace fhir_write
