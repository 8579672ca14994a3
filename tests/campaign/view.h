// The written view of a plan as labelled lines: what two plans must share to be the same, and the words for what differs.
#pragma once

#include <string>
#include <vector>

#include "clinical/plan.h"

namespace campaign {

/// Everything of the plans that is written or printed, a line each ("site Procedure/p1 stand-and-walk#0 earliest=..."), in the plan's order.
/// AgentRow::fraction_left moves with each second and is left out.
std::string view_of(const std::vector<clinical::CasePlan>&);

/// Labels (the first words) of the lines that stand in one view and not in the other, each once.
std::vector<std::string> differing(const std::string& a, const std::string& b);

std::string written(clinical::Instant);
std::string written(const std::optional<clinical::Instant>&);

}  // namespace campaign
