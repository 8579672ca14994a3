#include "fhir_read/server_brief.h"

namespace fhir_read {

std::optional<ServerBrief> server_brief(const json::Value& statement) {
  if (statement["resourceType"].text() != "CapabilityStatement") return std::nullopt;
  ServerBrief brief;
  brief.software = statement["software"]["name"].text();
  if (const auto version = statement["software"]["version"].text(); !version.empty()) brief.software += " " + std::string(version);
  brief.fhir_version = statement["fhirVersion"].text();
  return brief;
}

}  // namespace fhir_read
