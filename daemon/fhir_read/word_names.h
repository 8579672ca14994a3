// Names of the enumerations that only profile files and extensions spell.
#pragma once

#include "clinical/facts.h"

#include <optional>
#include <string_view>

namespace fhir_read {

std::optional<clinical::RiskKind> risk_named(std::string_view name);        // "liver disease"
std::optional<clinical::OrderKind> order_named(std::string_view name);      // "bed rest", "sheath removal"
std::optional<clinical::Closure> closure_named(std::string_view name);      // "manual", "mechanical", "device", "suture"
std::optional<clinical::Direction> direction_named(std::string_view name);  // "retrograde", "antegrade"

}  // namespace fhir_read
