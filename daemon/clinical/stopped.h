// Facts about the patient that end a case, whatever its clocks say.
#pragma once

#include <optional>

#include "clinical/facts.h"
#include "clinical/plan.h"

namespace clinical {

/// Dead, merged into another record, or no longer an active record. None: nothing known stands against the case.
std::optional<Reason> why_stopped(const Patient&);

/// Makes a withdrawn case of it: no step stays open, nothing is asked, no instant is named. What was done keeps its time.
void stop(CasePlan&, Reason);

}  // namespace clinical
