// Task.input: which groin, how long the plan is valid, and the limits that go with the step.
#pragma once

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

json::Value task_inputs(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);

}  // namespace fhir_write
