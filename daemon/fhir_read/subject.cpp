#include "fhir/codes.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"

#include <algorithm>

namespace fhir_read {
namespace {

void collect_references(const json::Value& value, std::string_view base_url, std::set<std::string>& found) {
  for (const auto& item : value.items()) collect_references(item, base_url, found);
  for (const auto& [name, child] : value.members()) {
    if (name == "reference" && child.is_string()) {
      if (auto key = fhir::parse_reference(child.text(), base_url).key(); !key.empty()) found.insert(std::move(key));
    } else if (name != "text") {
      collect_references(child, base_url, found);
    }
  }
}

// Who did what is read from the reference itself; whom to call needs the people behind it.
bool leads_to_people(std::string_view type) { return type == "CareTeam" || type == "Encounter" || type == "PractitionerRole"; }

// "2026-03-02T14:00:00.250Z": the digits after the point, as far as nanoseconds.
std::string fraction_of(std::string_view instant) {
  const auto point = instant.find('.');
  if (point == std::string_view::npos) return "000000000";
  const auto end = std::min(instant.find_first_not_of("0123456789", point + 1), instant.size());
  std::string digits(instant.substr(point + 1, end - point - 1));
  digits.resize(9, '0');
  return digits;
}

}  // namespace

Subject subject_of(const json::Value& resource, std::string_view base_url) {
  Subject subject;
  const std::string type(resource["resourceType"].text());
  std::set<std::string> found;
  collect_references(resource, base_url, found);
  if (type == "Patient") {
    if (const auto id = resource["id"].text(); !id.empty()) subject.patient = "Patient/" + std::string(id);
  } else {
    const auto target = fhir::read_reference(subject_element(resource), base_url);
    if (target.is("Patient")) subject.patient = target.key();
  }
  found.erase(subject.patient);
  subject.refers_to.assign(found.begin(), found.end());
  subject.version = resource["meta"]["versionId"].text();
  subject.last_updated = resource["meta"]["lastUpdated"].text();
  return subject;
}

const std::vector<std::string>& relevant_types() {
  static const std::vector<std::string> types{
      "AllergyIntolerance", "BodyStructure", "CareTeam", "Condition",         "Consent",             "Device",              "DeviceUsage",
      "DeviceUseStatement", "DiagnosticReport", "Encounter",      "Group",               "List",
      "Location",           "Medication",    "MedicationAdministration", "MedicationDispense", "MedicationRequest", "MedicationStatement",
      "MedicationUsage",    "Observation",   "Organization",  "Patient",           "Practitioner",        "PractitionerRole",   "Procedure",           "QuestionnaireResponse", "ServiceRequest", "Specimen",            "Substance",           "Task"};
  return types;
}

// OperationOutcome: only what searchset.h makes of it; nobody is asked to send any.
bool relevant(std::string_view type) { return type == "OperationOutcome" || std::ranges::binary_search(relevant_types(), type); }

bool matters_in_bundle(std::string_view type) { return type == "Bundle" || type == "Parameters" || type == "SubscriptionStatus" || relevant(type); }

std::vector<std::string> wanted_targets(const ResourceSet& set) {
  std::set<std::string> wanted;
  for (const auto& resource : set.all()) {
    for (auto& key : subject_of(resource.body, resource.base_url).refers_to) {
      const auto type = key.substr(0, key.find('/'));
      const bool of_people = type == "Practitioner" || type == "PractitionerRole" || type == "Organization";
      if (of_people && !leads_to_people(resource.type)) continue;
      if (type != "Patient" && relevant(type) && !set.find(resource.source, key)) wanted.insert(std::move(key));
    }
  }
  return {wanted.begin(), wanted.end()};
}

std::optional<int> compare_instants(std::string_view a, std::string_view b) {
  const auto first = fhir::read_time(a);
  const auto second = fhir::read_time(b);
  if (!first || !second) return std::nullopt;
  if (first->latest < second->earliest) return -1;
  if (second->latest < first->earliest) return 1;
  if (!first->exact() || !second->exact()) return std::nullopt;
  return fraction_of(a).compare(fraction_of(b)) < 0 ? -1 : fraction_of(a) == fraction_of(b) ? 0 : 1;
}

PatientState patient_state(const json::Value& patient, std::string_view base_url) {
  PatientState state;
  for (const auto& identifier : patient["identifier"].items()) {
    const auto value = identifier["value"].text();
    if (!value.empty()) state.identifiers.insert({std::string(identifier["system"].text()), std::string(value)});
  }
  state.active = patient["active"].boolean().value_or(true);
  state.deceased = patient["deceasedBoolean"].boolean().value_or(false) || patient.has("deceasedDateTime");
  for (const auto& link : patient["link"].items()) {
    if (link["type"].text() != "replaced-by") continue;
    state.replaced = true;
    if (const auto other = fhir::read_reference(link["other"], base_url); other.is("Patient")) state.replaced_by = other.key();
  }
  state.test_data = std::ranges::any_of(patient["meta"]["security"].items(), [](const json::Value& label) {
    return label["code"].text() == "HTEST" && fhir::canonical_system(label["system"].text()) == fhir::system_uri::act_reason;
  });
  return state;
}

std::string part_of(const json::Value& location, std::string_view base_url) {
  const auto whole = fhir::read_reference(location["partOf"], base_url);
  return whole.is("Location") ? whole.key() : std::string();
}

std::string status_of(const json::Value& resource) { return std::string(resource["status"].text()); }

TaskBrief task_brief(const json::Value& task) {
  TaskBrief brief;
  brief.status = task["status"].text();
  const auto owner = fhir::read_reference(task["owner"]);
  brief.owner = !owner.written.empty() ? owner.written : !owner.identifier_value.empty() ? owner.identifier_value : owner.display;
  if (const auto changed = fhir::read_time(task["lastModified"].text()); changed && changed->exact()) brief.changed = changed->earliest;
  return brief;
}

std::optional<fhir::Issue> shape_fault(const json::Value& resource, std::string_view at) {
  const auto fault = [&](std::string code, const std::string& where, std::string text) {
    return fhir::Issue{fhir::Severity::error, std::move(code), std::string(at) + where, std::move(text)};
  };
  if (!resource.is_object()) return fault("no-resource", "", "There is no resource here: a JSON object is needed.");
  if (!fhir::is_type_name(resource["resourceType"].text())) return fault("no-resource", ".resourceType", "resourceType is missing or no resource type.");
  if (resource.has("id") && !fhir::is_id(resource["id"].text())) return fault("bad-id", ".id", "The id is not a FHIR id.");
  return std::nullopt;
}

std::vector<std::string_view> ndjson_lines(std::string_view text) {
  std::vector<std::string_view> lines;
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    const auto line = text.substr(0, end);
    if (line.find_first_not_of(" \t\r") != std::string_view::npos) lines.push_back(line);
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines;
}

}  // namespace fhir_read
