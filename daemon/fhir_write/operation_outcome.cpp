#include "fhir_write/operation_outcome.h"

#include <set>

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

namespace {

Value parameter(std::string_view name, std::string_view kind, std::string_view definition) {
  Value one = Value::object({{"name", name}});
  one.set_present("definition", definition);
  return one.set("type", kind);
}

Value resource_of(const std::string& type, bool taken, std::span<const Searchable> searchable) {
  Value interactions = Value::array(), parameters = Value::array();
  for (const Searchable& one : searchable)
    if (one.type == type) parameters.push(parameter(one.name, one.kind, one.definition));
  const bool served = parameters.size() > 0;
  for (const char* code : {"read", "search-type"})
    if (served) interactions.push(Value::object({{"code", code}}));
  for (const char* code : {"create", "update", "delete"})
    if (taken) interactions.push(Value::object({{"code", code}}));
  Value one = Value::object({{"type", type}, {"interaction", std::move(interactions)}});
  if (served) one.set("versioning", type == "Task" ? "versioned-update" : "versioned");
  if (taken) one.set("updateCreate", true);
  if (!served) return one;
  parameters.push(parameter("_id", "token", ""));
  parameters.push(parameter("_lastUpdated", "date", ""));
  return one.set("searchParam", std::move(parameters));
}

}  // namespace

Value capability_statement(const Served& served, std::span<const std::string> types_read, std::span<const Searchable> searchable) {
  Value resources = Value::array();
  for (const std::string& type : types_read) resources.push(resource_of(type, true, searchable));
  std::set<std::string> more;
  for (const Searchable& one : searchable) more.insert(std::string(one.type));
  for (const std::string& type : types_read) more.erase(type);
  for (const std::string& type : more) resources.push(resource_of(type, false, searchable));
  Value system = Value::array();
  for (const char* code : {"transaction", "batch"}) system.push(Value::object({{"code", code}}));
  Value rest = Value::object({{"mode", "server"},
                              {"documentation", searchable.empty() ? "Intake of events for aftercare at the femoral access site. Nothing is served for reading."
                                                                         : "Intake of events for aftercare at the femoral access site, and the Tasks and CarePlans made from them."},
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
