#include "fhir_write/operation_outcome.h"

#include "fhir/codes.h"

namespace fhir_write {

using json::Value;

Value operation_outcome(std::string_view type, const fhir::Issues& issues) {
  Value list = Value::array();
  for (const fhir::Issue& issue : issues) {
    Value one = Value::object({{"severity", fhir::word(issue.severity)}, {"code", type}});
    one.set("details", Value::object({{"text", issue.text}}));
    one.set_present("diagnostics", issue.code);
    if (!issue.at.empty()) one.set("expression", Value::array({Value(issue.at)}));
    list.push(std::move(one));
  }
  return Value::object({{"resourceType", "OperationOutcome"}, {"issue", std::move(list)}});
}

Value operation_outcome(std::string_view type, std::string_view text, std::string_view at) {
  return operation_outcome(type, {{fhir::Severity::error, "", std::string(at), std::string(text)}});
}

Value response_bundle(bool transaction, std::span<const EntryAnswer> entries) {
  Value bundle = Value::object({{"resourceType", "Bundle"}, {"type", transaction ? "transaction-response" : "batch-response"}});
  Value list = Value::array();
  for (const EntryAnswer& entry : entries) {
    Value response = Value::object({{"status", entry.status}});
    response.set_present("location", entry.location);
    if (!entry.outcome.is_null()) response.set("outcome", entry.outcome);
    list.push(Value::object({{"response", std::move(response)}}));
  }
  bundle.set_present("entry", std::move(list));
  return bundle;
}

Value capability_statement(const Served& served, std::span<const std::string> types_read) {
  Value resources = Value::array();
  for (const std::string& type : types_read) {
    Value interactions = Value::array();
    for (const char* code : {"create", "update", "delete"}) interactions.push(Value::object({{"code", code}}));
    resources.push(Value::object({{"type", type}, {"interaction", std::move(interactions)}, {"updateCreate", true}}));
  }
  Value system = Value::array();
  for (const char* code : {"transaction", "batch"}) system.push(Value::object({{"code", code}}));
  Value rest = Value::object({{"mode", "server"},
                              {"documentation", "Intake of events for aftercare at the femoral access site. Nothing is served for reading."},
                              {"resource", std::move(resources)},
                              {"interaction", std::move(system)}});
  Value statement = Value::object({{"resourceType", "CapabilityStatement"}, {"status", "active"}, {"date", served.date}, {"kind", "instance"}});
  statement.set("software", Value::object({{"name", "Aftersheath"}, {"version", served.version}}));
  statement.set("implementation", Value::object({{"description", served.implementation}}));
  statement.set("fhirVersion", "4.0.1");
  statement.set("format", Value::array({Value("json")}));
  statement.set("rest", Value::array({std::move(rest)}));
  return statement;
}

}  // namespace fhir_write
