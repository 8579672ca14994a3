// The plan: a pure function of the record, the protocol and an instant.
#pragma once

#include "clinical/case_facts.h"
#include "clinical/plan.h"

namespace clinical {

/// One plan a case, in the order of cases_of(). Same input, same answer, to the byte. CasePlan::next_change is the earliest instant at which the
/// written view could change with no new fact; for every instant from clock now up to just before it the written view is the same.
std::vector<CasePlan> compute_plans(const Record&, const Protocol&, Instant now);

}  // namespace clinical
