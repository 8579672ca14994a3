#include "fhir_read/shape.h"

#include <algorithm>
#include <array>

namespace fhir_read {
namespace {

using Names = std::string_view;

constexpr Names kAllergy4[] = {"recorder", "asserter"}, kAllergy5[] = {"participant"};
constexpr Names kBody4[] = {"location", "locationQualifier"}, kBody5[] = {"includedStructure", "excludedStructure"};
constexpr Names kDevice4[] = {"statusReason", "distinctIdentifier", "deviceName", "specialization", "patient"};
constexpr Names kDevice5[] = {"displayName", "availabilityStatus", "biologicalSourceEvent", "name", "category", "conformsTo", "mode", "cycle", "duration", "endpoint", "gateway"};
constexpr Names kEncounter4[] = {"statusHistory", "classHistory", "period", "reasonCode", "reasonReference", "hospitalization"};
constexpr Names kEncounter5[] = {"subjectStatus", "careTeam", "virtualService", "actualPeriod", "plannedStartDate", "plannedEndDate", "reason", "dietPreference", "specialArrangement",
                                 "specialCourtesy", "admission"};
constexpr Names kLocation4[] = {"telecom", "physicalType", "availabilityExceptions"}, kLocation5[] = {"contact", "form", "characteristic", "virtualService"};
constexpr Names kMedication4[] = {"manufacturer", "form", "amount"}, kMedication5[] = {"marketingAuthorizationHolder", "doseForm", "totalVolume", "definition"};
constexpr Names kGiven4[] = {"instantiates", "medication[x]", "context", "effective[x]", "reasonCode", "reasonReference"};
constexpr Names kGiven5[] = {"basedOn", "medication", "encounter", "occurence[x]", "recorded", "isSubPotent", "subPotentReason", "reason"};
constexpr Names kDispense4[] = {"statusReason[x]", "medication[x]", "context", "detectedIssue"};
constexpr Names kDispense5[] = {"basedOn", "notPerformedReason", "statusChanged", "medication", "encounter", "recorded", "renderedDosageInstruction"};
constexpr Names kRequest4[] = {"reported[x]", "medication[x]", "reasonCode", "reasonReference", "instantiatesCanonical", "instantiatesUri", "detectedIssue"};
constexpr Names kRequest5[] = {"statusChanged", "medication", "informationSource", "reported", "device", "reason", "renderedDosageInstruction", "effectiveDosePeriod"};
constexpr Names kStatement4[] = {"basedOn", "statusReason", "medication[x]", "context", "reasonCode", "reasonReference"};
constexpr Names kStatement5[] = {"medication", "encounter", "reason", "relatedClinicalInformation", "renderedDosageInstruction", "adherence"};
constexpr Names kObservation5[] = {"instantiates[x]", "triggeredBy", "bodyStructure"};
constexpr Names kProcedure4[] = {"performed[x]", "asserter", "reasonCode", "reasonReference", "complicationDetail", "usedReference", "usedCode"};
constexpr Names kProcedure5[] = {"focus", "occurrence[x]", "recorded", "reported[x]", "reason", "used", "supportingInfo"};
constexpr Names kSpecimen5[] = {"combined", "role", "feature"};
constexpr Names kTask4[] = {"performerType", "reasonCode", "reasonReference"};
constexpr Names kTask5[] = {"doNotPerform", "requestedPeriod", "requestedPerformer", "performer", "reason"};

constexpr VersionMarks kMarks[] = {{"AllergyIntolerance", kAllergy4, kAllergy5},
                                   {"BodyStructure", kBody4, kBody5},
                                   {"Condition", kAllergy4, kAllergy5},
                                   {"Device", kDevice4, kDevice5},
                                   {"Encounter", kEncounter4, kEncounter5},
                                   {"List", {}, {}},
                                   {"Location", kLocation4, kLocation5},
                                   {"Medication", kMedication4, kMedication5},
                                   {"MedicationAdministration", kGiven4, kGiven5},
                                   {"MedicationDispense", kDispense4, kDispense5},
                                   {"MedicationRequest", kRequest4, kRequest5},
                                   {"MedicationStatement", kStatement4, kStatement5},
                                   {"Observation", {}, kObservation5},
                                   {"Patient", {}, {}},
                                   {"Procedure", kProcedure4, kProcedure5},
                                   {"Specimen", {}, kSpecimen5},
                                   {"Task", kTask4, kTask5}};

bool is_one_of(std::string_view member, std::span<const Names> marks) {
  return std::ranges::any_of(marks, [&](Names mark) { return is_named(member, mark); });
}

// http://hl7.org/fhir/5.0/StructureDefinition/..., or a canonical of HL7 itself with |5.0.0.
FhirVersion version_of_profile(std::string_view url) {
  const auto after = [&](std::string_view part) {
    const auto at = url.find(part);
    return at == std::string_view::npos ? std::string_view() : url.substr(at + part.size());
  };
  auto number = after("hl7.org/fhir/");
  if (const auto pinned = after("|"); number.starts_with("StructureDefinition/") && !pinned.empty()) number = pinned;
  if (number.starts_with("4.0") || number.starts_with("4.3")) return FhirVersion::r4;
  return number.starts_with("5.0") ? FhirVersion::r5 : FhirVersion::unknown;
}

}  // namespace

std::span<const VersionMarks> version_marks() { return kMarks; }

bool is_named(std::string_view member, std::string_view mark) {
  if (!mark.ends_with("[x]")) return member == mark;
  const auto stem = mark.substr(0, mark.size() - 3);
  return member.starts_with(stem) && member.size() > stem.size() && member[stem.size()] >= 'A' && member[stem.size()] <= 'Z';
}

FhirVersion Shape::version() const {
  if (mixed()) return FhirVersion::unknown;
  if (!r4.empty()) return FhirVersion::r4;
  return r5.empty() ? stated : FhirVersion::r5;
}

bool Shape::mixed() const {
  return (!r4.empty() && !r5.empty()) || (stated == FhirVersion::r4 && !r5.empty()) || (stated == FhirVersion::r5 && !r4.empty());
}

Shape shape_of(const json::Value& resource) {
  Shape shape;
  for (const auto& profile : resource["meta"]["profile"].items())
    if (const auto version = version_of_profile(profile.text()); version != FhirVersion::unknown) shape.stated = version;
  const auto marks = std::ranges::find(kMarks, resource["resourceType"].text(), &VersionMarks::type);
  for (const auto& [name, value] : resource.members()) {
    if (marks == std::end(kMarks) || value.is_null()) continue;
    if (is_one_of(name, marks->r4)) shape.r4.push_back(name);
    if (is_one_of(name, marks->r5)) shape.r5.push_back(name);
    // Encounter.class: one Coding in R4, a list of CodeableConcepts in R5.
    if (marks->type == "Encounter" && name == "class") (value.is_array() ? shape.r5 : shape.r4).push_back(name);
  }
  return shape;
}

}  // namespace fhir_read
