// A plan with one of everything that is written, for the tests of what changes with it.
#pragma once

#include "clinical/change.h"
#include "fhir_write/example_plans.h"
#include "mutants_support.h"

namespace clinical {

/// The sheath is in: a draw, a confirmation, a removal, a check, a missing fact, one gate that asks, one alert.
CasePlan rich();
/// "check-site#5"; of calls "ask", "alert", "alarm".
std::string name_of_task(const ItemKey&);

}  // namespace clinical
