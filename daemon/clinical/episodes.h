// Episodes in a series of values: begins with the first abnormal one, ends after two normal ones in a row.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/plan.h"

namespace clinical {

/// One value as a trigger sees it. level null: normal, see normal_at: most are, and they need neither `why` nor `source`.
/// `source` lives as long as the case's facts.
struct Sign {
  Instant at{};
  std::optional<AlertLevel> level;
  Reason why;
  const Source* source = nullptr;
};
inline Sign normal_at(Instant at) { return {at, {}, {}, {}}; }

/// Takes the signs of one trigger by time. What it keeps is the episode that is open after the last one.
class Episode {
 public:
  void take(Sign);
  /// Two of these end the episode. Two that bear the same time are one look, charted twice.
  void take_normal(Instant at);
  bool open() const { return since_.has_value(); }
  /// The alert of the open episode; null: none is.
  std::optional<Alert> alert(const std::string& trigger, const std::string& site);

 private:
  std::optional<Instant> since_;  ///< the first abnormal one; none: no episode is open
  std::optional<Sign> worst_;     ///< of several equally bad the last
  std::vector<Source> inputs_;
  int normal_ = 0;                ///< in a row, up to the last one
  Instant last_normal_{};         ///< of these
};

/// An alert that is one event or state since `since`.
Alert alert_since(const std::string& trigger, AlertLevel level, const std::string& site, Instant since, Reason why, std::vector<Source> inputs);

}  // namespace clinical
