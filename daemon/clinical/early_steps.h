// Steps of getting up that somebody recorded before their time.
#pragma once

#include <optional>
#include <vector>

#include "clinical/plan.h"

namespace clinical {

struct SiteWork;
struct SiteFacts;
struct CaseFacts;

struct EarlyStep {
  enum class When { sheath_in, being_pressed, before_clock };
  Step step{};                   ///< raise-head, sit-up, stand-and-walk, discharge-check
  Instant at{};
  When when{};
  std::optional<Instant> from;   ///< with before_clock: the instant from which this site allowed it; null: no instant may be given
};

/// Of one site and its open case, by time; every completed Task of the step counts, not only the first. The clock is that of the T0 that stands; where no
/// time permits it, every sitting up and walk is early, and `from` is null wherever the rest is withheld. A walk is early before the rest was over as it was
/// known then (length_for), by a minute too; a discharge check as a check, which counts from a little before its time on.
std::vector<EarlyStep> early_steps(const SiteWork&);

/// The length of the rest is not given at all: the case is out of scope, a physician is still to set it, or the recorded times contradict. Conflicts
/// of another kind and an ischaemic limb withhold the times, and the clock that they hide still tells a walk that came before it.
bool no_time_permits(const SiteWork&);

/// No T0 of the site stood at that time: its sheath was in, or it was or had to be pressed.
bool before_haemostasis(const SiteFacts&, Instant at);

}  // namespace clinical
