// A protocol as FHIR definitions: a PlanDefinition with every value and its source, and an ActivityDefinition for each step.
#pragma once

#include <string>
#include <vector>

#include "clinical/protocol.h"
#include "json/tree.h"

namespace fhir_write {

/// A step as the code system says it.
struct StepWords {
  std::string code, display, definition;
};

struct Publication {
  const clinical::Protocol& protocol;
  std::vector<StepWords> steps;          ///< in the order in which they are published
  std::string values;                    ///< profile::canonical_values: "gate.act.limit=150 s" a line
  std::vector<std::string> approved_by;  ///< "name, role" of each approval that covers the values; none: not approved
  std::string approved_on;               ///< day of the last of them; empty: none
};

/// The PlanDefinition first. Its citations stand with the step that each value is about, else at its root. All in English. Same input, same bytes.
std::vector<json::Value> definitions(const Publication&);

}  // namespace fhir_write
