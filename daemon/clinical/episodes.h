// Episodes in a series of values: begins with the first abnormal one, ends after two normal ones in a row.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/plan.h"

namespace clinical {

/// One value as a trigger sees it. level null: normal, see normal_at: most are, and they need neither `why` nor `source`. `source` lives as long as the case's facts.
struct Sign {
  Instant at{};
  std::optional<AlertLevel> level;
  Reason why;
  const Source* source = nullptr;
};

inline Sign normal_at(Instant at) { return {at, {}, {}, {}}; }

/// The alert of the episode that is open after the last sign; null: none is. Signs by time.
std::optional<Alert> open_episode(const std::string& trigger, const std::string& site, const std::vector<Sign>& signs);

/// An alert that is one event or state since `since`.
Alert alert_since(const std::string& trigger, AlertLevel level, const std::string& site, Instant since, Reason why, std::vector<Source> inputs);

}  // namespace clinical
