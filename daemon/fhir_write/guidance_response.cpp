#include "fhir_write/guidance_response.h"

#include <set>

#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_write/elements.h"
#include "fhir_write/identity.h"

namespace fhir_write {
namespace {

using clinical::Fact;
using json::Value;

// The type of resource that would bring the fact.
const char* carrier_of(Fact fact) {
  switch (fact) {
    case Fact::sheath_size: case Fact::side: case Fact::vessel: case Fact::closure: case Fact::haemostasis_time:
    case Fact::sheath_removal: case Fact::compression_start: case Fact::intervention: case Fact::puncture_quality: return "Procedure";
    case Fact::anticoagulant_history: case Fact::drug_identity: case Fact::stop_time: case Fact::dose_time: case Fact::dose: return "MedicationAdministration";
    case Fact::home_anticoagulants: return "MedicationStatement";
    case Fact::birth_date: return "Patient";
    case Fact::bed_rest: return "ServiceRequest";
    default: return "Observation";
  }
}

Value issue(const char* severity, const char* code, const std::string& text) {
  return Value::object({{"severity", severity}, {"code", code}, {"details", concept_of({}, text)}});
}

Value outcome(const WriterContext& context, const clinical::CasePlan& plan) {
  Value issues = Value::array();
  for (const auto& one : plan.missing) issues.push(issue("warning", "required", missing_item(voice(context), one)));
  for (const auto& one : plan.conflicts) issues.push(issue("warning", "conflict", conflict_item(voice(context), one)));
  for (const auto& site : plan.sites)
    for (const auto& gate : site.gates)
      if (gate.state == clinical::GateState::ask) issues.push(issue("information", "business-rule", say(context, gate.why)));
  if (issues.size() == 0) issues.push(issue("information", "informational", say(context, "record.nothing-missing")));
  return Value::object({{"resourceType", "OperationOutcome"}, {"id", "outcome"}, {"issue", std::move(issues)}});
}

Value requirements(const clinical::CasePlan& plan) {
  std::set<std::string> types;
  for (const auto& one : plan.missing) types.insert(carrier_of(one.fact));
  Value all = Value::array();
  for (const auto& type : types) all.push(Value::object({{"type", type}}));
  return all;
}

}  // namespace

Value guidance_response(const WriterContext& context, const clinical::CasePlan& plan, const clinical::ItemKey& key) {
  const std::string uuid = identity(context, plan, key);
  const bool complete = plan.missing.empty() && plan.conflicts.empty();
  Value r = begin(context, "GuidanceResponse");
  const std::string points = words::joined(words::open_points(voice(context), plan), " ");
  narrate(r, context, paragraph(points.empty() ? say(context, "record.nothing-missing") : points, true) + paragraph(standing_words(context)));
  r.set("contained", Value::array({outcome(context, plan)}));
  r.set("requestIdentifier", Value::object({{"system", fhir::item_identifier_system}, {"value", uuid}}));
  r.set("identifier", identifiers(uuid));
  r.set("moduleCanonical", plan_definition(context));
  r.set("status", complete ? "success" : "data-required");
  r.set("subject", patient(plan));
  r.set_present("encounter", reference(plan.encounter));
  r.set("occurrenceDateTime", fhir::format_utc(context.now));
  r.set("performer", device(context));
  r.set("note", Value::array({Value::object({{"text", say(context, "caution.supports")}})}));
  r.set("evaluationMessage", Value::array({reference("#outcome")}));
  r.set("result", reference(reference_to(context, plan, current_care_plan(context, key.intent))));
  r.set_present("dataRequirement", requirements(plan));
  return r;
}

Value void_guidance(const WriterContext& context, const clinical::ItemKey& key) {
  Value r = body_on_server(context, key);
  r.set("status", "entered-in-error");
  return r;
}

}  // namespace fhir_write
