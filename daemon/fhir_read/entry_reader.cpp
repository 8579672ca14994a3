#include "fhir_read/entry_reader.h"

#include "fhir/uuid.h"

namespace fhir_read {
namespace {

// The id that a resource without one gets: the tail of its fullUrl.
std::string id_from(std::string_view full_url, std::string_view type) {
  if (const auto uuid = fhir::parse_uuid(full_url); uuid && full_url.starts_with("urn:uuid:")) return fhir::to_string(*uuid);
  const auto target = fhir::parse_reference(full_url);
  return target.type == type ? target.id : std::string();
}

void rewrite_references(json::Value& value, const FullUrls& full_urls) {
  for (auto& item : value.items()) rewrite_references(item, full_urls);
  for (auto& [name, child] : value.members()) {
    if (name == "reference" && child.is_string()) {
      if (const auto it = full_urls.find(child.text()); it != full_urls.end()) child = json::Value(it->second);
    } else {
      rewrite_references(child, full_urls);
    }
  }
}

// W/"3" -> 3
std::string version_in(std::string_view etag) {
  const auto open = etag.find('"');
  const auto close = etag.rfind('"');
  return open < close && close != std::string_view::npos ? std::string(etag.substr(open + 1, close - open - 1)) : std::string();
}

void tell(const EntryPlace& place, EntryAnswer& answer, std::string code, std::string_view path, std::string text) {
  answer.accepted = false;
  answer.issues.push_back({fhir::Severity::error, std::move(code), place.at + std::string(path), std::move(text)});
}

bool reads(std::string_view method) { return method == "GET" || method == "HEAD"; }
bool may_notify(const EntryPlace& place) { return place.bundle_type == "subscription-notification" || place.bundle_type == "history"; }

// Deletions, and entries that name a resource without carrying it.
std::optional<ResourceEvent> event_without_body(const EntryPlace& place, const std::string& method, EntryAnswer& answer) {
  auto target = fhir::parse_reference(place.entry["request"]["url"].text());
  if (target.id.empty()) target = fhir::parse_reference(place.entry["fullUrl"].text());
  if (reads(method) && !may_notify(place)) {
    tell(place, answer, "not-supported", ".request.method", "Nothing is read here.");
    return std::nullopt;
  }
  if (target.id.empty()) {
    if (place.entry.has("response") || (reads(method) && may_notify(place))) return std::nullopt;  // a query that a notification goes with
    tell(place, answer, "no-resource", "", "The entry carries no resource and names none.");
    return std::nullopt;
  }
  auto version = !target.version.empty() ? target.version : version_in(place.entry["response"]["etag"].text());
  return ResourceEvent{method == "DELETE" ? "DELETE" : "POST", target.type, target.id, std::move(version), {}, target.base};
}

bool agrees_with_url(const EntryPlace& place, const ResourceEvent& event, EntryAnswer& answer) {
  const auto url = place.entry["request"]["url"].text();
  const auto target = fhir::parse_reference(url);
  if (url.empty() || target.id.empty() || (target.type == event.type && target.id == event.id)) return true;
  tell(place, answer, "id-mismatch", ".request.url", "The address " + std::string(url) + " is not that of " + event.type + "/" + event.id + ".");
  return false;
}

}  // namespace

FullUrls full_urls_of(const json::Value& bundle) {
  FullUrls urls;
  for (const auto& entry : bundle["entry"].items()) {
    const std::string url(entry["fullUrl"].text());
    const std::string type(entry["resource"]["resourceType"].text());
    if (url.empty() || type.empty()) continue;
    std::string id(entry["resource"]["id"].text());
    if (id.empty()) id = id_from(url, type);
    if (!id.empty()) urls.emplace(url, type + "/" + id);
  }
  return urls;
}

std::optional<ResourceEvent> event_of_entry(const EntryPlace& place, EntryAnswer& answer) {
  const auto& resource = place.entry["resource"];
  const std::string method(place.entry["request"]["method"].text());
  if (!place.entry.is_object()) {
    tell(place, answer, "no-entry", "", "The entry is no JSON object.");
    return std::nullopt;
  }
  if (method == "DELETE" || resource.is_null()) return event_without_body(place, method, answer);
  if (auto fault = shape_fault(resource, place.at + ".resource")) {
    answer.accepted = false;
    answer.issues.push_back(std::move(*fault));
    return std::nullopt;
  }
  if (resource["resourceType"].text() == "OperationOutcome") return std::nullopt;
  if (method == "PATCH") {
    tell(place, answer, "not-supported", ".request.method", "A PATCH cannot be taken.");
    return std::nullopt;
  }
  ResourceEvent event{"PUT", std::string(resource["resourceType"].text()), std::string(resource["id"].text()),
                      std::string(resource["meta"]["versionId"].text()), resource, ""};
  const auto full_url = place.entry["fullUrl"].text();
  if (event.id.empty()) event.id = id_from(full_url, event.type);
  if (event.id.empty() && method == "PUT") event.id = fhir::parse_reference(place.entry["request"]["url"].text()).id;
  if (event.id.empty()) event.method = "POST";
  if (event.version.empty()) event.version = version_in(place.entry["response"]["etag"].text());
  if (const auto address = fhir::parse_reference(full_url); address.kind == fhir::ReferenceKind::absolute && !address.id.empty()) event.base_url = address.base;
  if (method == "PUT" && !agrees_with_url(place, event, answer)) return std::nullopt;
  rewrite_references(event.body, place.full_urls);
  return event;
}

}  // namespace fhir_read
