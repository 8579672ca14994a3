// What the recorded events of one puncture add up to: sheath, holds, haemostasis, rebleeds.
#pragma once

#include "clinical/case_facts.h"

namespace clinical {

/// Fills the course of `site` (sheath_known_in to haemostasis_unconfirmed, baseline aside) from its events, growths and closure; the order in
/// which they were received does not matter. Events without an exact time move no clock; one that might void T0 makes the site disputed.
void replay_course(SiteFacts& site);

/// A closure device or suture with a hold after it of `failed_from` or longer has failed, recorded as failed or not: a touch-up is shorter. Where no start of
/// pressing is recorded the hold is counted from the sheath's removal on, for nothing tells that no hand pressed. To be called after replay_course.
void judge_closure(SiteFacts& site, seconds failed_from);

/// The contradictions among the recorded times of the site; `start` is the case's, `tolerance` what two clocks may differ by.
/// Marks the site disputed, and takes its T0 away, where it finds one. To be called after replay_course.
std::vector<Conflict> time_conflicts(SiteFacts& site, Instant start, seconds tolerance);

}  // namespace clinical
