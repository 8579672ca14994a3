// What people read of a plan, as reasons: which groin, which sheath, when. One choice of words for record, terminal and paper.
#pragma once

#include <string>
#include <vector>

#include "clinical/plan.h"

namespace clinical {

/// "where.left", "where.right", "where.both", "where.unknown" (any side not recorded). No argument.
Reason where_phrase(const CasePlan&, const std::vector<std::string>& site_keys);
/// "sheath.artery", "sheath.vein", "sheath.vessel-unknown", each with `french`; "-size-unknown" appended and no argument where it is not known.
Reason sheath_phrase(const SitePlan&);
/// "when.done" (at), "when.done-unknown", "when.cancelled", "when.due" (at: since), "when.due-now", "when.from" (at), "when.at-t0", "when.after-t0" (length), "when.blocked", "when.blocked-until" (at).
Reason when_phrase(const Milestone&);
const SitePlan* site_of(const CasePlan&, const std::string& key);

/// The sheath of this site is out, or nobody knows that it is in and somebody presses.
bool is_pressed_or_out(const SitePlan&);

}  // namespace clinical
