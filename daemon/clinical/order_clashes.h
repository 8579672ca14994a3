// Orders that say otherwise than the plan: told as such, so that whoever ordered can settle it.
#pragma once

#include <vector>

#include "clinical/case_facts.h"
#include "clinical/instant.h"
#include "clinical/plan.h"
#include "clinical/site_view.h"

namespace clinical {

/// Of a plan that is otherwise complete. Bed rest of another length than by the rules; an order that keeps the sheath in where every gate is open; a drug
/// that acts on clotting ordered while a sheath is in or haemostasis is not confirmed.
std::vector<OrderClash> order_clashes(const CasePlan&, const CaseFacts&, const Clock&);

}  // namespace clinical
