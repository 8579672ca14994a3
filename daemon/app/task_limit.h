// No flood: how many Tasks one patient is given in an hour.
#pragma once

#include <optional>
#include <vector>

#include "clinical/change.h"

namespace app {

struct HeldBack {
  std::vector<clinical::Item> items;                 ///< that wait, the earliest start first
  std::optional<clinical::Instant> again_at;         ///< when the next may be given
  std::optional<clinical::ItemKey> last_given;       ///< of the Tasks that are given now, the one that starts last; none: none is
};

/// Takes routine new Tasks out of the difference, the latest starts first, until no more than `per_hour` were given in the hour before `now` with those that
/// stay. Never: what is urgent or an emergency, a call, a request for facts or paper, what takes the place of a Task in somebody's hands, and every
/// change of what stands. `given`: when each Task of the patient was first written.
HeldBack hold_back(clinical::Difference&, const std::vector<clinical::Instant>& given, std::int64_t per_hour, clinical::Instant now);

}  // namespace app
