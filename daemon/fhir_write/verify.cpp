#include "fhir_write/verify.h"

#include <algorithm>
#include <charconv>
#include <set>
#include <utility>

#include "fhir/codes.h"
#include "fhir/reference.h"
#include "fhir/uuid.h"

namespace fhir_write {
namespace {

using json::Value;

std::string identity_of(const Value& request_entry) {
  if (const auto own = own_identity(request_entry["resource"])) return *own;
  const auto uuid = fhir::parse_uuid(request_entry["fullUrl"].text());
  if (uuid) return fhir::to_string(*uuid);
  return std::string(request_entry["resource"]["id"].text());
}

int status_of(const Value& response) {
  const auto text = response["status"].text();
  int status = 0;
  std::from_chars(text.data(), text.data() + text.size(), status);
  return status;
}

// "Task/7/_history/2", relative or absolute; where a server gives no location for an update, the address that was asked for.
std::string location_of(const Value& request_entry, const Value& response_entry) {
  const auto location = response_entry["response"]["location"].text();
  if (!location.empty()) return std::string(location);
  const auto& resource = response_entry["resource"];
  if (!resource["id"].text().empty()) return std::string(resource["resourceType"].text()) + "/" + std::string(resource["id"].text());
  return request_entry["request"]["method"].text() == "PUT" ? std::string(request_entry["request"]["url"].text()) : std::string();
}

// Why the answer cannot be about what was asked; empty: it can. A server may write its answers in the order in which it worked.
std::string of_another(const Value& asked, const Value& given, const std::string& type, const std::string& id) {
  const auto method = asked["request"]["method"].text(), url = asked["request"]["url"].text();
  const auto type_asked = asked["resource"]["resourceType"].text();
  if (!type_asked.empty() && type != type_asked) return "is about another type";
  if (method == "PUT" && url.find('?') == std::string_view::npos && fhir::parse_reference(url).id != id) return "is about another resource than the one to change";
  const auto sent = own_identity(asked["resource"]), shown = own_identity(given["resource"]);
  return sent && shown && *sent != *shown ? "shows another resource" : "";
}

// Traces that people leave on a Task they work on.
bool taken_on(const Value& task, const std::vector<std::string>& owners) {
  for (const char* element : {"businessStatus", "executionPeriod", "output", "note"})
    if (task.has(element)) return true;
  const auto owner = task["owner"]["reference"].text();
  return owners.empty() ? !owner.empty() : std::ranges::find(owners, owner) == owners.end();
}

// Ended by us it says so with a code of ours; ended without one it was by somebody.
clinical::Stands issue_stands(const Value& resource) {
  for (const Value& one : resource["mitigation"].items())
    for (const Value& code : one["action"]["coding"].items())
      if (code["system"].text() == fhir::system_uri::order_clash) return clinical::Stands::withdrawn;
  return is_ended_issue(resource) ? clinical::Stands::rejected : clinical::Stands::open;
}

}  // namespace

bool is_ended_issue(const Value& resource) {
  const auto status = resource["status"].text();
  return resource["resourceType"].text() == "DetectedIssue" && (status == "cancelled" || status == "entered-in-error" || status == "mitigated");
}

boost::system::result<std::vector<Placed>, std::string> placed(const Value& request, const Value& response) {
  if (response["resourceType"].text() != "Bundle" || response["type"].text() != "transaction-response") return std::string("the answer is no transaction-response");
  const auto asked = request["entry"].items(), given = response["entry"].items();
  if (asked.size() != given.size())
    return "the answer has " + std::to_string(given.size()) + " entries for " + std::to_string(asked.size()) + " requests";
  std::vector<Placed> all;
  std::set<std::pair<std::string, std::string>> places;
  for (std::size_t i = 0; i < asked.size(); ++i) {
    const auto where = "entry " + std::to_string(i) + " of the answer ";
    const int status = status_of(given[i]["response"]);
    if (status < 200 || status > 299) return where + "is no success";
    const std::string address = location_of(asked[i], given[i]);
    const auto reference = fhir::parse_reference(address);
    if (reference.id.empty()) return where + "has no id";
    if (const std::string why = of_another(asked[i], given[i], reference.type, reference.id); !why.empty()) return where + why;
    if (!places.emplace(reference.type, reference.id).second) return where + "names a place that another entry names";
    std::string etag(given[i]["response"]["etag"].text());
    if (etag.empty() && !reference.version.empty()) etag = "W/\"" + reference.version + "\"";
    all.push_back({identity_of(asked[i]), reference.type, reference.id, reference.version, std::move(etag), status});
  }
  return all;
}

Value resolved(Value resource, const std::vector<Placed>& all) {
  for (auto& item : resource.items()) item = resolved(std::move(item), all);
  for (auto& [name, value] : resource.members()) {
    if (!value.is_string()) {
      value = resolved(std::move(value), all);
      continue;
    }
    if ((name != "reference" && name != "url") || !value.text().starts_with("urn:uuid:")) continue;
    const auto uuid = value.text().substr(std::string_view("urn:uuid:").size());
    if (const auto one = std::ranges::find(all, uuid, &Placed::identity); one != all.end()) value = one->type + "/" + one->id;
  }
  return resource;
}

std::optional<std::string> own_identity(const Value& resource) {
  for (const auto& identifier : resource["identifier"].items())
    if (identifier["system"].text() == fhir::item_identifier_system) return std::string(identifier["value"].text());
  return std::nullopt;
}

std::optional<clinical::ItemKey> own_key(const Value& resource) {
  for (const auto& extension : resource["extension"].items())
    if (extension["url"].text() == fhir::extension_url::item_key) return clinical::key_from(extension["valueString"].text());
  return std::nullopt;
}

void set_own_key(Value& resource, const clinical::ItemKey& key) {
  if (own_key(resource)) return;
  Value extension = Value::object({{"url", std::string(fhir::extension_url::item_key)}, {"valueString", text_of(key)}});
  if (Value* all = resource.find("extension")) all->push(std::move(extension));
  else resource.set("extension", Value::array({std::move(extension)}));
}

clinical::Stands stands_by_content(const Value& resource, const std::vector<std::string>& owners) {
  using clinical::Stands;
  const auto status = resource["status"].text();
  if (resource["resourceType"].text() == "DetectedIssue") return issue_stands(resource);
  if (resource["resourceType"].text() != "Task") {
    const bool ended = status == "revoked" || status == "superseded" || status == "entered-in-error";
    return ended ? Stands::withdrawn : Stands::open;
  }
  if (status == "completed") return Stands::completed;
  if (status == "failed") return Stands::failed;
  const Value& why = resource["statusReason"].has("concept") ? resource["statusReason"]["concept"] : resource["statusReason"];  // R5: a CodeableReference
  if (status == "cancelled" && why["coding"].items().empty() && why.has("text") && !taken_on(resource, owners))
    return Stands::withdrawn;
  if (status == "rejected" || status == "cancelled" || status == "entered-in-error") return Stands::rejected;
  const bool waiting = status == "requested" || status == "ready";
  return waiting && !taken_on(resource, owners) ? Stands::open : Stands::claimed;
}

std::string written_by(const Value& resource) {
  for (const auto& tag : resource["meta"]["tag"].items())
    if (tag["system"].text() == AFTERSHEATH_BASE "/CodeSystem/writer") return std::string(tag["code"].text());
  return {};
}

}  // namespace fhir_write
