// The steps of one site as milestones: removal, compression, and what is asked for. The patient's steps are in getting_up.h.
#pragma once

#include <optional>
#include <vector>

#include "clinical/gates.h"
#include "clinical/site_work.h"

namespace clinical {

/// A milestone that waits; blocked unless told otherwise.
Milestone milestone(Step, std::optional<Reason> why = {});
/// due once `earliest` has come, else expected.
void set_clock(Milestone&, Instant earliest, const Clock&);

/// draw-coagulation, confirm-readiness, remove-sheath. `not_before`: the vein waits for the artery in the same groin.
struct VeinWaits {
  bool for_pull = false;                 ///< the artery's sheath is still in
  std::optional<Instant> not_before;     ///< both holds then end together
};
std::vector<Milestone> removal_steps(const SiteWork&, const std::optional<Projection>&, const VeinWaits&);

/// The phases of the hold, end-compression, dress-site.
std::vector<Milestone> hold_steps(const SiteWork&);

/// The first ordinal of the calls about what was given or measured on bed rest; the gates' own, which end with the sheath, lie below.
inline constexpr int kFirstRestCall = 40;
/// call-clinician for what a clinician decides: scope (1), hold (2), rest (3), an order whose condition could not be read (4), a step of the pull that was refused (5), a sheath that came out against a clotting gate (6), and from kFirstGateCall on the gates in their order, whose Task is the gate's own.
inline constexpr int kFirstGateCall = 10;
std::vector<Milestone> calls(const SiteWork&);

/// The completion of a Task for this step and site not before `since`; null: none. One that names no site counts where there is only one.
std::optional<Instant> completed(const CaseFacts&, const SiteFacts*, Step, std::optional<Instant> since);

}  // namespace clinical
