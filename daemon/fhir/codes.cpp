#include "fhir/codes.h"

#include <algorithm>
#include <utility>

namespace fhir {
namespace {

// Source: NamingSystem resources of HL7 Terminology (THO) 7.0.1; SNOMED CT from FHIR R4 CodeSystem-snomedct.
constexpr std::array<std::pair<std::string_view, std::string_view>, 15> kOids{{
    {"2.16.840.1.113883.6.88", system_uri::rxnorm},
    {"2.16.840.1.113883.6.69", system_uri::ndc},
    {"2.16.840.1.113883.6.73", system_uri::atc},
    {"2.16.840.1.113883.6.96", system_uri::snomed},
    {"2.16.840.1.113883.6.1", system_uri::loinc},
    {"2.16.840.1.113883.6.4", system_uri::icd10pcs},
    {"2.16.840.1.113883.6.3", "http://hl7.org/fhir/sid/icd-10"},
    {"2.16.840.1.113883.6.90", "http://hl7.org/fhir/sid/icd-10-cm"},
    {"2.16.840.1.113883.6.12", system_uri::cpt},
    {"2.16.840.1.113883.6.285", system_uri::hcpcs},
    {"2.16.840.1.113883.6.14", system_uri::hcpcs},
    {"2.16.840.1.113883.6.8", system_uri::ucum},
    {"1.2.840.10008.2.16.4", system_uri::dicom},
    {"2.16.840.1.113883.5.8", system_uri::act_reason},
    {"2.16.840.1.113883.6.104", "http://www.cms.gov/Medicare/Coding/ICD9"},
}};

// Addresses met in feeds beside the canonical one, already without scheme and trailing slash.
constexpr std::array<std::pair<std::string_view, std::string_view>, 10> kOtherAddresses{{
    {"terminology.hl7.org/CodeSystem/icd10PCS", system_uri::icd10pcs},
    {"hl7.org/fhir/sid/icd-10-pcs", system_uri::icd10pcs},
    {"fhir.de/CodeSystem/bfarm/atc", system_uri::atc},
    {"fhir.de/CodeSystem/dimdi/atc", system_uri::atc},
    {"hl7.org/fhir/sid/icd-10", "http://hl7.org/fhir/sid/icd-10"},
    {"hl7.org/fhir/sid/icd-10-cm", "http://hl7.org/fhir/sid/icd-10-cm"},
    {"fhir.de/CodeSystem/bfarm/icd-10-gm", "http://fhir.de/CodeSystem/bfarm/icd-10-gm"},
    {"fhir.de/CodeSystem/dimdi/icd-10-gm", "http://fhir.de/CodeSystem/bfarm/icd-10-gm"},
    {"fhir.de/CodeSystem/bfarm/ops", "http://fhir.de/CodeSystem/bfarm/ops"},
    {"fhir.de/CodeSystem/dimdi/ops", "http://fhir.de/CodeSystem/bfarm/ops"},
}};

constexpr std::array kKnown{system_uri::rxnorm, system_uri::ndc, system_uri::atc, system_uri::snomed, system_uri::loinc,
                            system_uri::icd10pcs, system_uri::cpt, system_uri::hcpcs, system_uri::ucum, system_uri::dicom,
                            system_uri::act_reason, system_uri::list_empty_reason, system_uri::data_absent_reason,
                            system_uri::observation_category, system_uri::task_code, system_uri::access_event,
                            system_uri::access_statement, system_uri::check_finding, system_uri::aftercare_step,
                            system_uri::task_input};

std::string_view without_scheme(std::string_view url) {
  for (const std::string_view scheme : {"http://", "https://"}) {
    if (url.starts_with(scheme)) return url.substr(scheme.size());
  }
  return url;
}

}  // namespace

bool is_step_code(std::string_view code) noexcept { return std::ranges::find(step_codes, code) != step_codes.end(); }

std::string canonical_system(std::string_view written) {
  std::string_view bare = written;
  while (bare.ends_with('/')) bare.remove_suffix(1);
  if (bare.starts_with("urn:oid:")) bare.remove_prefix(8);
  for (const auto& [oid, canonical] : kOids) {
    if (bare == oid) return std::string(canonical);
  }
  bare = without_scheme(bare);
  for (const auto canonical : kKnown) {
    if (bare == without_scheme(canonical)) return std::string(canonical);
  }
  for (const auto& [address, canonical] : kOtherAddresses) {
    if (bare == address) return std::string(canonical);
  }
  return std::string(written);
}

}  // namespace fhir
