// What may be recorded on a Task when it is completed, step by step: published with the protocol, and what the reader takes as facts.
#pragma once

#include <string_view>
#include <vector>

#include "clinical/plan.h"

namespace fhir_write {

struct TaskOutput {
  std::string_view system, code;
  std::string_view value;  ///< element of the output that holds it: "valueDateTime", "valueQuantity", "valueBoolean", "valueCodeableConcept", "valueInteger", "valueString"
};

/// In the order in which they are listed. Every step has a time, a note and, for cases with two, the access site.
std::vector<TaskOutput> outputs_of(clinical::Step);

}  // namespace fhir_write
