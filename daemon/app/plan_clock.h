#pragma once

#include <memory>

#include "app/seams.h"

namespace app {

/// The machine's clock, never behind `not_before` (the last reading in the store) and never going back.
std::unique_ptr<PlanClock> system_plan_clock(Millis not_before);

/// For rehearsals: starts at the later of `from` and `not_before` and runs `speed` times as fast as real time; speed 0 stands still until moved.
std::unique_ptr<PlanClock> rehearsal_plan_clock(Millis from, double speed, Millis not_before);

std::unique_ptr<RandomSource> system_random();

}  // namespace app
