#include "fhir_write/provenance.h"

#include "fhir/date_time.h"
#include "fhir_write/elements.h"

namespace fhir_write {
namespace {

using json::Value;

// The version stands in the display as well: servers drop it from references, or refuse it there.
Value source_entity(const WriterContext& context, const clinical::Source& source) {
  std::string versioned = source.reference;
  if (!source.version.empty()) versioned += "/_history/" + source.version;
  return Value::object({{"role", "source"}, {"what", reference(context.versioned_inputs ? versioned : source.reference, versioned)}});
}

}  // namespace

Value provenance(const WriterContext& context, const clinical::CasePlan& plan, const std::vector<std::string>& targets, bool first) {
  Value r = begin(context, "Provenance");
  Value target = Value::array(), entities = Value::array();
  for (const auto& one : targets) target.push(reference(one));
  for (const auto& source : inputs_of(plan)) entities.push(source_entity(context, source));
  r.set("target", std::move(target));
  r.set("occurredDateTime", fhir::format_utc(context.now)).set("recorded", fhir::format_utc(context.now));
  r.set("policy", Value::array({plan_definition(context), "urn:sha256:" + context.protocol.sha256}));
  r.set("activity", concept_of({coding("http://terminology.hl7.org/CodeSystem/v3-DataOperation", first ? "CREATE" : "UPDATE", first ? "create" : "revise")}));
  Value agent = Value::object({{"type", concept_of({coding("http://terminology.hl7.org/CodeSystem/provenance-participant-type", "assembler", "Assembler")})},
                               {"who", device(context)}});
  agent.set_present("onBehalfOf", reference(context.organization));
  r.set("agent", Value::array({std::move(agent)}));
  r.set("entity", std::move(entities));
  return r;
}

}  // namespace fhir_write
