// What to keep in mind with this patient: nothing to do now, nothing that moves a time, but printed wherever the plan is.
#pragma once

#include <vector>

#include "clinical/case_facts.h"

namespace clinical {

/// In a fixed order, each once.
std::vector<Reason> cautions_of(const CaseFacts&, const Protocol&, const Clock&);

}  // namespace clinical
