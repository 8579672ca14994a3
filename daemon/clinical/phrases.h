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
/// Where these sites (all of the plan's, where none is named) are pressed, for a sentence: "@press.artery", "@press.antegrade" (an artery or a vessel not
/// known, punctured downwards: the hole in the vessel lies below the one in the skin), "@press.vein"; "@press.mixed" where an antegrade one is among others.
std::string press_term(const CasePlan&, const std::vector<std::string>& site_keys);
/// Punctured downwards, and not known to be a vein: a vein is punctured towards the heart, its hole lies above the skin's.
bool pressed_below(const SitePlan&);
const SitePlan* site_of(const CasePlan&, const std::string& key);

/// The worst alert that is an emergency and has not ended; null: none.
const Alert* open_emergency(const CasePlan&);
/// A step of the pull, of getting up or after it, still to come, while an emergency is open: the plan keeps its clock, and nobody is told it before the emergency is
/// settled (its episode ends after two normal values).
bool waits_for_emergency(const CasePlan&, const Milestone&);

/// The sheath of this site is out, or nobody knows that it is in and somebody presses.
bool is_pressed_or_out(const SitePlan&);

}  // namespace clinical
