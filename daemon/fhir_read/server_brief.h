// Who a FHIR server says it is.
#pragma once

#include <optional>
#include <string>

#include "json/tree.h"

namespace fhir_read {

struct ServerBrief {
  std::string software;      // name and version; empty: not said
  std::string fhir_version;  // "4.0.1"
};
// nullopt when the body is no CapabilityStatement.
std::optional<ServerBrief> server_brief(const json::Value& capability_statement);

}  // namespace fhir_read
