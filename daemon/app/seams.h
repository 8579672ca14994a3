// What the daemon takes from the world, each behind an interface that a test owns: plan time, the order of work, chance, files.
// Timers and network messages are transport::Timers and transport::Network, the store is store::Store.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "store/error.h"

namespace app {

using store::Millis;

/// The clock that moves plans: milliseconds UTC, never going back. Timeouts and backoff do not use it.
struct PlanClock {
  virtual ~PlanClock() = default;
  virtual Millis now() = 0;
  /// Real time until `at`; none when this clock will not get there by itself (it stands still).
  virtual std::optional<std::chrono::nanoseconds> real_time_until(Millis at) = 0;
  /// Only a rehearsal's clock can be moved by hand; false: this one cannot. Never moves back.
  virtual bool move_to(Millis at) = 0;
  virtual bool rehearsal() const = 0;
  /// What the machine's own clock shows, set back or not; of a rehearsal as now().
  virtual Millis machine() { return now(); }
  /// What is wrong with it, for an operator: it was set back, or ahead; empty: nothing.
  virtual std::string trouble() { return {}; }
};

/// Runs work in the order given, one piece at a time, never inside post().
struct Executor {
  virtual ~Executor() = default;
  virtual void post(std::function<void()> work) = 0;
};

struct RandomSource {
  virtual ~RandomSource() = default;
  virtual std::uint64_t next() = 0;
};

/// Files that leave the daemon (the chart folder). Paths are relative to its root.
struct ChartDisk {
  virtual ~ChartDisk() = default;
  /// The whole file or nothing, durable on return (written beside, synced, renamed). Empty answer: done; else what went wrong, for people.
  virtual std::string put(const std::string& path, std::string_view content) = 0;
};

}  // namespace app
