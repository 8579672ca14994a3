// One compartment, first-order loss: how much of what was given is left. Information beside the gates.
#pragma once

#include <vector>

#include "clinical/instant.h"

namespace clinical {

/// A dose: all of `amount` at `start` (start == end), or evenly from start to end.
struct Input {
  Instant start, end;
  double amount = 0;
};

/// 2^(-t/half-life); 1 at and before t = 0.
double fraction_left(seconds since, seconds half_life);

/// What is present at `at`, by exact superposition of the inputs begun by then: for constant input over a time d at rate r,
/// r/k (1 - e^-kd) at its end, decaying from there, with k = ln 2 / half-life. Same unit as the inputs.
double amount_at(const std::vector<Input>&, seconds half_life, Instant at);

}  // namespace clinical
