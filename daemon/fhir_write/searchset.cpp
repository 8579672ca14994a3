#include "fhir_write/searchset.h"

#include <algorithm>
#include <array>

#include "fhir_write/verify.h"

namespace fhir_write {

using json::Value;

Value searchset(const std::string& base, const std::string& self, const std::string& next, std::size_t total, const std::vector<Value>& found) {
  Value bundle = Value::object({{"resourceType", "Bundle"}, {"type", "searchset"}, {"total", total}});
  Value links = Value::array({Value::object({{"relation", "self"}, {"url", self}})});
  if (!next.empty()) links.push(Value::object({{"relation", "next"}, {"url", next}}));
  bundle.set("link", std::move(links));
  Value entries = Value::array();
  for (const Value& one : found)
    entries.push(Value::object({{"fullUrl", base + "/" + std::string(one["resourceType"].text()) + "/" + std::string(one["id"].text())},
                                {"resource", one},
                                {"search", Value::object({{"mode", "match"}})}}));
  bundle.set_present("entry", std::move(entries));
  return bundle;
}

Value in_version(Value resource, const std::string& id, const std::string& version, const std::string& last_updated) {
  std::vector<json::Member> members;
  Value meta = Value::object({{"versionId", version}, {"lastUpdated", last_updated}});
  for (const json::Member& one : resource["meta"].members())
    if (one.name != "versionId" && one.name != "lastUpdated") meta.set(one.name, one.value);
  members.push_back({"resourceType", resource["resourceType"]});
  members.push_back({"id", id});
  members.push_back({"meta", std::move(meta)});
  for (const json::Member& one : resource.members())
    if (one.name != "resourceType" && one.name != "id" && one.name != "meta") members.push_back(one);
  return Value::object_of(std::move(members));
}

namespace {

// Task.status of R4, required: http://hl7.org/fhir/R4/valueset-task-status.html
constexpr std::array<std::string_view, 12> kStatus{"draft", "requested", "received", "accepted", "rejected", "ready", "cancelled", "in-progress", "on-hold", "failed", "completed", "entered-in-error"};

}  // namespace

std::string changed_for_good(const Value& stands, const Value& wanted) {
  if (std::ranges::find(kStatus, wanted["status"].text()) == kStatus.end()) return "Task.status is none of R4's";
  if (own_identity(wanted) != own_identity(stands)) return "Task.identifier is not that of this Task";
  if (wanted["for"]["reference"].text() != stands["for"]["reference"].text()) return "Task.for names somebody else";
  if (wanted["code"]["coding"] != stands["code"]["coding"]) return "Task.code asks for something else";
  if (wanted["intent"].text() != stands["intent"].text()) return "Task.intent never changes";
  return "";
}

Value transaction_response(const std::vector<Done>& all) {
  Value entries = Value::array();
  for (const Done& one : all) {
    Value response = Value::object({{"status", one.status}, {"location", one.location}, {"etag", one.etag}});
    entries.push(Value::object({{"resource", one.resource}, {"response", std::move(response)}}));
  }
  return Value::object({{"resourceType", "Bundle"}, {"type", "transaction-response"}, {"entry", std::move(entries)}});
}

}  // namespace fhir_write
