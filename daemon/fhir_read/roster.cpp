#include "fhir_read/roster.h"

#include <algorithm>
#include <array>

#include "fhir/reference.h"

namespace fhir_read {
namespace {

using Names = std::set<std::string>;

void add(Names& names, const json::Value& reference, std::string_view base_url) {
  if (const auto patient = fhir::read_reference(reference, base_url); patient.is("Patient")) names.insert(patient.key());
}

template <std::size_t N>
bool one_of(std::string_view status, const std::array<std::string_view, N>& words) {
  return std::ranges::find(words, status) != words.end();
}

// Of R4, R4B and R5. A status that is not known does not take anybody off.
constexpr std::array<std::string_view, 7> kEncounterOver{"finished", "completed", "cancelled", "discontinued", "entered-in-error", "planned", "discharged"};
constexpr std::array<std::string_view, 3> kAppointmentOff{"cancelled", "noshow", "entered-in-error"};
constexpr std::array<std::string_view, 2> kListOff{"retired", "entered-in-error"};

}  // namespace

Names patients_on_roster(const json::Value& resource, std::string_view base_url) {
  Names names;
  const auto type = resource["resourceType"].text();
  const auto status = resource["status"].text();
  if (type == "Encounter" && !one_of(status, kEncounterOver)) add(names, resource["subject"], base_url);
  if (type == "Appointment" && !one_of(status, kAppointmentOff)) {
    add(names, resource["subject"], base_url);  // R5
    for (const auto& participant : resource["participant"].items()) add(names, participant["actor"], base_url);
  }
  if (type == "Group")
    for (const auto& member : resource["member"].items())
      if (!member["inactive"].boolean().value_or(false)) add(names, member["entity"], base_url);
  if (type == "List" && !one_of(status, kListOff))
    for (const auto& entry : resource["entry"].items())
      if (!entry["deleted"].boolean().value_or(false)) add(names, entry["item"], base_url);
  return names;
}

std::size_t nobody_on_roster(const json::Value& resource, std::string_view base_url) {
  const auto type = resource["resourceType"].text();
  const bool group = type == "Group";
  if (!group && (type != "List" || one_of(resource["status"].text(), kListOff))) return 0;
  std::size_t nobody = 0;
  for (const auto& entry : resource[group ? "member" : "entry"].items()) {
    if (entry[group ? "inactive" : "deleted"].boolean().value_or(false)) continue;
    Names names;
    add(names, entry[group ? "entity" : "item"], base_url);
    if (names.empty()) ++nobody;
  }
  return nobody;
}

bool has_identifier(const json::Value& resource, std::string_view system, std::string_view value) {
  return std::ranges::any_of(resource["identifier"].items(), [&](const json::Value& one) { return one["system"].text() == system && one["value"].text() == value; });
}

}  // namespace fhir_read
