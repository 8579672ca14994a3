#include "fhir_write/r5.h"

#include <algorithm>

#include "fhir/codes.h"

namespace fhir_write {
namespace {

using json::Value;

/// Takes the element out; null where there is none.
Value taken(Value& from, const char* name) {
  Value* there = from.find(name);
  if (!there) return {};
  Value value = std::move(*there);
  from.erase(name);
  return value;
}

Value list_of(Value value) { return value.is_array() || value.is_null() ? value : Value::array({std::move(value)}); }

/// A CodeableConcept as CodeableReference; one that is one already stays.
Value as_concept(Value said) { return said.has("concept") || said.has("reference") ? said : Value::object({{"concept", std::move(said)}}); }

void push_each(Value& to, const Value& from, const char* member) {
  for (const Value& one : from.items()) to.push(Value::object({{member, one}}));
}

void task(Value& r) {
  Value reasons = list_of(taken(r, "reason"));
  if (const Value code = taken(r, "reasonCode"); !code.is_null()) reasons.push(Value::object({{"concept", code}}));
  if (const Value reference = taken(r, "reasonReference"); !reference.is_null()) reasons.push(Value::object({{"reference", reference}}));
  r.set_present("reason", std::move(reasons));
  if (const Value why = taken(r, "statusReason"); !why.is_null()) r.set("statusReason", as_concept(why));
  Value asked = list_of(taken(r, "requestedPerformer"));
  push_each(asked, taken(r, "performerType"), "concept");
  r.set_present("requestedPerformer", std::move(asked));
  // In R5 the time that is asked for has an element of its own; restriction.period stays, as the invariant tsk-1 allows it.
  if (r["restriction"].has("period")) r.set("requestedPeriod", r["restriction"]["period"]);
}

void care_plan(Value& r) {
  if (const Value author = taken(r, "author"); !author.is_null()) r.set("custodian", author);
  for (Value& activity : r.find("activity") ? r.find("activity")->items() : std::span<Value>())
    if (const Value reference = taken(activity, "reference"); !reference.is_null()) activity.set("plannedActivityReference", reference);
}

void document(Value& r) {
  Value identifiers = list_of(taken(r, "identifier"));
  if (const Value master = taken(r, "masterIdentifier"); !master.is_null()) identifiers.push(master);
  r.set_present("identifier", std::move(identifiers));
  Value* context = r.find("context");
  if (context && context->is_object()) {
    Value around = std::move(*context);
    r.erase("context");
    r.set_present("context", taken(around, "encounter"));
    r.set_present("period", taken(around, "period"));
    const Value all_related = taken(around, "related");
    for (const Value& related : all_related.items()) {
      const bool plan = related["type"].text() == "CarePlan" || related["reference"].text().starts_with("CarePlan/") || related["reference"].text().starts_with("urn:uuid:");
      Value list = list_of(taken(r, plan ? "basedOn" : "event"));
      list.push(plan ? related : Value::object({{"reference", related}}));
      r.set(plan ? "basedOn" : "event", std::move(list));
    }
  }
  for (Value& one : r.find("relatesTo") ? r.find("relatesTo")->items() : std::span<Value>())
    if (one["code"].is_string())
      one.set("code", Value::object({{"coding", Value::array({Value::object({{"system", "http://hl7.org/fhir/document-relationship-type"}, {"code", one["code"]}})})}}));
  for (Value& content : r.find("content") ? r.find("content")->items() : std::span<Value>())
    if (Value* attachment = content.find("attachment"); attachment && (*attachment)["size"].is_number()) attachment->set("size", (*attachment)["size"].digits());
}

void guidance(Value& r) {
  if (const Value messages = taken(r, "evaluationMessage"); !messages.is_null()) r.set("evaluationMessage", messages.is_array() ? messages.at(0) : messages);
  r.set_present("result", list_of(taken(r, "result")));
}

void communication(Value& r) {
  for (Value& payload : r.find("payload") ? r.find("payload")->items() : std::span<Value>())
    if (const Value text = taken(payload, "contentString"); !text.is_null()) payload.set("contentCodeableConcept", Value::object({{"text", text}}));
}

/// What R4 has no status for R5 has: a clash that is over, or whose case was closed, is mitigated.
void issue(Value& r) {
  if (const Value patient = taken(r, "patient"); !patient.is_null()) r.set("subject", patient);
  const auto over = [](const Value& one) { return std::ranges::any_of(one["action"]["coding"].items(), [](const Value& code) { return code["system"].text() == fhir::system_uri::order_clash; }); };
  const auto status = r["status"].text();
  if ((status == "final" && std::ranges::any_of(r["mitigation"].items(), over)) || status == "cancelled") r.set("status", "mitigated");
}

}  // namespace

Value as_r5(Value resource, const std::vector<std::string>& stays) {
  const std::string type(resource["resourceType"].text());
  if (type == "Bundle") {
    for (Value& entry : resource.find("entry") ? resource.find("entry")->items() : std::span<Value>())
      if (Value* inside = entry.find("resource")) *inside = as_r5(std::move(*inside), stays);
    return resource;
  }
  if (std::ranges::find(stays, type) != stays.end()) return resource;
  if (type == "Task") task(resource);
  if (type == "CarePlan") care_plan(resource);
  if (type == "DocumentReference") document(resource);
  if (type == "GuidanceResponse") guidance(resource);
  if (type == "Communication") communication(resource);
  if (type == "DetectedIssue") issue(resource);
  return resource;
}

Value from_r5(Value resource) {
  if (resource["resourceType"].text() == "Task") resource.erase("requestedPeriod");
  if (resource["resourceType"].text() == "DetectedIssue")
    if (const Value subject = taken(resource, "subject"); !subject.is_null()) resource.set("patient", subject);
  if (resource["resourceType"].text() != "CarePlan") return resource;
  if (const Value custodian = taken(resource, "custodian"); !custodian.is_null()) resource.set("author", custodian);
  for (Value& activity : resource.find("activity") ? resource.find("activity")->items() : std::span<Value>())
    if (const Value reference = taken(activity, "plannedActivityReference"); !reference.is_null()) activity.set("reference", reference);
  return resource;
}

}  // namespace fhir_write
