// How long a puncture is pressed, and in which phases.
#pragma once

#include <optional>
#include <vector>

#include "clinical/modifiers.h"

namespace clinical {

/// One phase of a hold. Phases follow each other without a gap.
struct Phase {
  Step step{};
  minutes length{};
};

struct HoldPlan {
  Closure method = Closure::manual;
  std::vector<Phase> phases;          ///< in order; their lengths sum to `total`
  minutes total{};
  std::vector<Basis> basis;           ///< one line for each part of the arithmetic
  std::optional<Reason> ask;          ///< a clinician must order it: instants null, steps blocked
  minutes length_until(Step) const;   ///< from the start of the hold to the start of that phase (to its end, where it has no such phase)
};

/// The hold that runs, or the one to come. Base, cap, floors, then adds.
HoldPlan hold_plan(const SiteView&, const std::vector<Modifier>&);

}  // namespace clinical
