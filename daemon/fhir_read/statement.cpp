#include "fhir/codes.h"
#include "fhir_read/observation.h"
#include "fhir_read/values.h"

namespace fhir_read {
namespace {

using clinical::StatementKind;

std::optional<StatementKind> statement_named(std::string_view code) {
  if (code == "no-anticoagulant-given") return StatementKind::no_anticoagulant_given;
  if (code == "no-home-anticoagulant") return StatementKind::no_home_anticoagulant;
  if (code == "coagulation-test-unavailable") return StatementKind::coagulation_test_unavailable;
  return std::nullopt;
}

std::string procedure_of(const Resource& r) {
  const auto part_of = first_key(r.body["partOf"], "Procedure", r);
  return part_of.empty() ? first_key(r.body["focus"], "Procedure", r) : part_of;
}

// Who decided: the performers, as they are called.
std::string performers(const Resource& r, const Reading& reading) {
  std::string names;
  for (const auto* performer : list_of(r.body["performer"])) {
    const auto name = shown(*performer, r, reading);
    if (!name.empty()) names += (names.empty() ? "" : ", ") + name;
  }
  return names;
}

void read_decision(const Resource& r, Reading& reading) {
  clinical::Decision out;
  out.source = r.fact_source();
  out.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  out.performer = performers(r, reading);
  for (const auto& component : r.body["component"].items()) {
    const auto what = code_in(component["code"], fhir::system_uri::access_statement, reading);
    if (what == "gate") out.subject = code_value(component, "", reading);
    if (what == "value-seen") out.value_seen = seen_value(component, reading);
  }
  out.refused = r.body["valueBoolean"].boolean() == false;
  if (out.refused) reading.inform(r, "valueBoolean", "refused", "The decision is a no: it opens nothing.");
  if (out.subject.empty()) return reading.error(r, "component", "no-gate", "The decision does not say for which gate or step it is; it is not used.");
  if (out.performer.empty()) reading.error(r, "performer", "no-performer", "The decision does not say whose it is; it opens nothing.");
  reading.record.decisions.push_back(std::move(out));
}

}  // namespace

std::string seen_value(const json::Value& component, const Reading& reading) {
  if (component["valueQuantity"].is_object()) return written(component["valueQuantity"]);
  if (component["valueInteger"].is_number()) return std::string(component["valueInteger"].digits());
  return code_value(component, "", reading);
}

void read_statement(const Resource& r, const std::string& code, Reading& reading) {
  if (result_status(r, reading) == ResultStatus::none) return;
  if (r.body.has("dataAbsentReason")) return reading.warn(r, "dataAbsentReason", "absent", "The statement is absent, not made.");
  if (code == "gate-decision") return read_decision(r, reading);
  const auto kind = statement_named(code);
  if (!kind) return reading.error(r, "code", "unknown-code", "\"" + code + "\" is no statement.");
  if (r.body["valueBoolean"].boolean() == false) return reading.warn(r, "valueBoolean", "denied", "The statement \"" + code + "\" is denied; it does not count.");
  for (const auto& member : r.body.members())  // no value at all is the plain statement; a value other than true is not understood
    if (member.name.starts_with("value") && member.name != "valueBoolean")
      return reading.error(r, member.name, "statement-value", "The statement \"" + code + "\" carries a value other than true; it does not count.");
  clinical::Statement out;
  out.source = r.fact_source();
  out.kind = *kind;
  out.at = moment_of(times_of(r.body, {"effective"}, r, reading));
  if (!out.at) reading.warn(r, "effective", "no-time", "The statement has no usable time.");
  out.procedure = procedure_of(r);
  reading.record.statements.push_back(std::move(out));
}

}  // namespace fhir_read
