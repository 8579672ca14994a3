// Addresses of code systems, ours and others', and the spellings under which senders write them.
#pragma once

#include <array>
#include <string>
#include <string_view>

namespace fhir {

// Fixed base of all canonicals, code systems and extensions of this program.
#define AFTERSHEATH_BASE "https://aftersheath.example/fhir"

namespace system_uri {
inline constexpr std::string_view rxnorm = "http://www.nlm.nih.gov/research/umls/rxnorm";
inline constexpr std::string_view ndc = "http://hl7.org/fhir/sid/ndc";
inline constexpr std::string_view atc = "http://www.whocc.no/atc";
inline constexpr std::string_view snomed = "http://snomed.info/sct";
inline constexpr std::string_view loinc = "http://loinc.org";
inline constexpr std::string_view icd10pcs = "http://www.cms.gov/Medicare/Coding/ICD10";
inline constexpr std::string_view cpt = "http://www.ama-assn.org/go/cpt";
inline constexpr std::string_view hcpcs = "http://www.cms.gov/Medicare/Coding/HCPCSReleaseCodeSets";
inline constexpr std::string_view ucum = "http://unitsofmeasure.org";
inline constexpr std::string_view dicom = "http://dicom.nema.org/resources/ontology/DCM";
inline constexpr std::string_view act_reason = "http://terminology.hl7.org/CodeSystem/v3-ActReason";
inline constexpr std::string_view list_empty_reason = "http://terminology.hl7.org/CodeSystem/list-empty-reason";
inline constexpr std::string_view data_absent_reason = "http://terminology.hl7.org/CodeSystem/data-absent-reason";
inline constexpr std::string_view observation_category = "http://terminology.hl7.org/CodeSystem/observation-category";
inline constexpr std::string_view task_code = "http://hl7.org/fhir/CodeSystem/task-code";

inline constexpr std::string_view access_event = AFTERSHEATH_BASE "/CodeSystem/access-event";
inline constexpr std::string_view access_statement = AFTERSHEATH_BASE "/CodeSystem/access-statement";
inline constexpr std::string_view check_finding = AFTERSHEATH_BASE "/CodeSystem/check-finding";
inline constexpr std::string_view aftercare_step = AFTERSHEATH_BASE "/CodeSystem/aftercare-step";
inline constexpr std::string_view order_clash = AFTERSHEATH_BASE "/CodeSystem/order-clash";
inline constexpr std::string_view act_code = "http://terminology.hl7.org/CodeSystem/v3-ActCode";
inline constexpr std::string_view task_input = AFTERSHEATH_BASE "/CodeSystem/task-input";
}  // namespace system_uri

namespace extension_url {
inline constexpr std::string_view femoral_access = AFTERSHEATH_BASE "/StructureDefinition/femoral-access";
inline constexpr std::string_view sheath_size = AFTERSHEATH_BASE "/StructureDefinition/sheath-size";
inline constexpr std::string_view closure_method = AFTERSHEATH_BASE "/StructureDefinition/closure-method";
inline constexpr std::string_view puncture_count = AFTERSHEATH_BASE "/StructureDefinition/puncture-count";
inline constexpr std::string_view puncture_quality = AFTERSHEATH_BASE "/StructureDefinition/puncture-quality";
inline constexpr std::string_view puncture_direction = AFTERSHEATH_BASE "/StructureDefinition/puncture-direction";
inline constexpr std::string_view last_dose = AFTERSHEATH_BASE "/StructureDefinition/last-dose";
inline constexpr std::string_view item_key = AFTERSHEATH_BASE "/StructureDefinition/item-key";
inline constexpr std::string_view data_absent_reason = "http://hl7.org/fhir/StructureDefinition/data-absent-reason";
}  // namespace extension_url

// System of the identifiers that our own items carry (value: their UUID).
inline constexpr std::string_view item_identifier_system = AFTERSHEATH_BASE "/NamingSystem/item";

inline constexpr std::array<std::string_view, 21> step_codes{
    "provide-missing", "draw-coagulation", "confirm-readiness", "remove-sheath", "firm-compression", "partial-compression",
    "light-compression", "reduce-pressure", "low-pressure-hold", "end-compression", "dress-site", "check-site", "raise-head",
    "sit-up", "stand-and-walk", "check-after-walk", "ask-anticoagulant-plan", "discharge-check", "call-clinician", "print-sheet",
    "check-sheet"};
bool is_step_code(std::string_view code) noexcept;

// Coding.system as known here: https for http, a trailing slash, urn:oid: and bare OIDs, and non-preferred addresses become the
// canonical address. An unknown system is returned as written.
std::string canonical_system(std::string_view written);

}  // namespace fhir
