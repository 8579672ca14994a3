// Body mass index and body surface from recorded weight and height.
#pragma once

#include <optional>
#include <vector>

#include "clinical/evidence.h"

namespace clinical {

struct Body {
  double mass_index = 0;  ///< kg/m2: weight / height^2
  double surface = 0;     ///< m2, Mosteller, N Engl J Med 1987;317:1098: sqrt(cm x kg / 3600)
  std::vector<Source> inputs;
};

/// The newest weight of this stay or within its freshness before the start, the newest height taken as an adult; null: not recorded so.
/// Values later than `until` count only where none is earlier.
const Measurement* weight_of(const Evidence&, Instant until);
const Measurement* height_of(const Evidence&, Instant until);

/// From those two; null when one of them is missing.
std::optional<Body> body_of(const Evidence&, Instant until);

}  // namespace clinical
