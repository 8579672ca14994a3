// When the groin and foot are looked at, and which looks were missed.
#pragma once

#include <optional>
#include <vector>

#include "clinical/compression.h"

namespace clinical {

/// What the grid hangs on. Exactly one phase at a time: sheath in, compression, after T0.
struct WatchCourse {
  const SiteView& view;
  const HoldPlan& hold;
  bool high = false;
  std::vector<Instant> getting_up;   ///< clock times of the getting-up steps after T0, each asks for a check as well; empty: not known
};

struct Watch {
  std::vector<Milestone> checks;     ///< check-site by time: done, missed (cancelled), due, expected; `late` and `latest` set
  int missed_in_row = 0;             ///< checks of the series not made, up to the last one whose time came; a later look clears one; one at a step of getting up counts alone
  int made_since = 0;                ///< of two or more in a row: looks since; the second ends it
  std::optional<Instant> first_missed;
  bool restarted = false;            ///< heparin was given after T0: the series began anew
};

/// The running series. A check counts for its due time from watch.counts-from before it (half the interval where that is less) to the next one.
Watch watch_of(const WatchCourse&);

}  // namespace clinical
