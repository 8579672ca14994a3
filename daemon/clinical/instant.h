// Time as the clinical core knows it: UTC, whole seconds, no zone. Zones exist only where something is printed.
#pragma once

#include <chrono>
#include <optional>

namespace clinical {

using Instant = std::chrono::sys_seconds;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

/// When something was true, as precisely as the source said. A full dateTime has earliest == latest; "2026-03-02" spans the day.
/// Both ends are inclusive. Consumers take the end that is the more cautious one; a clock never starts from an inexact Moment.
struct Moment {
  Instant earliest;
  Instant latest;
  bool exact() const { return earliest == latest; }
  friend auto operator<=>(const Moment&, const Moment&) = default;
};
inline Moment exactly(Instant at) { return {at, at}; }

/// The instant of an evaluation. Every comparison of a fact's time with "now" goes through reached() or before(), so that the
/// earliest instant at which the answer could change is known afterwards: that is the plan's nextChange.
class Clock {
 public:
  explicit Clock(Instant now) : now_(now) {}
  Instant now() const { return now_; }
  /// true when `at` <= now. A future `at` becomes a candidate for next().
  bool reached(Instant at) const {
    if (at <= now_) return true;
    note(at);
    return false;
  }
  /// true while now <= `last_good` (inclusive); the second after it becomes a candidate for next().
  bool still(Instant last_good) const { return !reached(last_good + seconds{1}); }
  /// Names a future instant at which something would change. Past instants are ignored.
  void note(Instant at) const {
    if (at > now_ && (!next_ || at < *next_)) next_ = at;
  }
  std::optional<Instant> next() const { return next_; }

 private:
  Instant now_;
  mutable std::optional<Instant> next_;
};

}  // namespace clinical
