#include "fhir_read/versions.h"

#include "fhir_read/intake.h"

namespace fhir_read {
namespace {

std::string_view name_of(FhirVersion version) { return version == FhirVersion::r5 ? "R5" : "R4"; }

fhir::Issue mixed(std::string at, std::string text) { return {fhir::Severity::error, "version-mixed", std::move(at), std::move(text)}; }

}  // namespace

FhirVersion version_named(std::string_view number) {
  const auto is = [&](std::string_view version) { return number == version || (number.starts_with(version) && number[version.size()] == '.'); };
  if (is("4.0") || is("4.3")) return FhirVersion::r4;
  return is("5.0") ? FhirVersion::r5 : FhirVersion::unknown;
}

std::optional<fhir::Issue> other_version(const json::Value& resource, FhirVersion named, std::string_view at) {
  if (named == FhirVersion::unknown) return std::nullopt;
  const auto shape = shape_of(resource);
  const auto& foreign = named == FhirVersion::r4 ? shape.r5 : shape.r4;
  if (foreign.empty()) return std::nullopt;
  const auto other = named == FhirVersion::r4 ? FhirVersion::r5 : FhirVersion::r4;
  return mixed(std::string(at) + "." + foreign.front(), "Sent as " + std::string(name_of(named)) + ", but " + foreign.front() + " is an element of " + std::string(name_of(other)) + "; it is read as it stands.");
}

std::optional<fhir::Issue> mixed_versions(const json::Value& bundle, std::string_view at) {
  std::optional<std::size_t> of[2];
  for (std::size_t i = 0; i < bundle["entry"].size(); ++i) {
    const auto& resource = bundle["entry"].at(i)["resource"];
    if (!relevant(resource["resourceType"].text())) continue;
    const auto version = shape_of(resource).version();
    if (version == FhirVersion::unknown) continue;
    auto& first = of[version == FhirVersion::r5 ? 1 : 0];
    if (!first) first = i;
  }
  if (!of[0] || !of[1]) return std::nullopt;
  const auto place = [&](std::size_t i) { return std::string(at) + ".entry[" + std::to_string(i) + "]"; };
  return mixed(place(std::max(*of[0], *of[1])), "The Bundle mixes versions: " + place(*of[0]) + " is written in R4 and " + place(*of[1]) + " in R5. Each is read as it stands.");
}

}  // namespace fhir_read
