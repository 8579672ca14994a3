// Body mass index and body surface from recorded weight and height.
#pragma once

#include <vector>

#include "clinical/evidence.h"

namespace clinical {

struct Body {
  double mass_index = 0;  ///< kg/m2: weight / height^2
  double surface = 0;     ///< m2, Mosteller, N Engl J Med 1987;317:1098: sqrt(cm x kg / 3600)
  std::vector<Source> inputs;
};

/// The weights of the case up to `until`; where there is none the newest before it, of this stay or within its freshness before the start (of one
/// instant: each); else the first later one. All readable; empty: not known.
std::vector<const Measurement*> weights_of(const Evidence&, Instant until);
/// The newest height taken as an adult, by `until` where there is one; null: not recorded.
const Measurement* height_of(const Evidence&, Instant until);

/// One for each of those weights; empty when weight or height is not known. Which is the worst depends on the question.
std::vector<Body> bodies_of(const Evidence&, Instant until);

}  // namespace clinical
