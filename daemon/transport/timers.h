// Real, monotonic time for timeouts and backoff. A test puts its own Timers in place and moves them by hand.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>

namespace transport {

class Io;

/// Zero names no timer.
enum class TimerId : std::uint64_t { none = 0 };

struct Timers {
  virtual ~Timers() = default;
  /// Calls `then` once, after that much real time (at once when zero or less), never inside this call.
  virtual TimerId after(std::chrono::nanoseconds real_time, std::function<void()> then) = 0;
  /// After this call `then` does not begin any more. Unknown and spent identifiers are ignored.
  virtual void cancel(TimerId timer) = 0;
};

/// Timers on the threads of an Io; callable from any thread. Callbacks run on an I/O thread, one at a time.
/// Destruction (not from an I/O thread) waits for a running callback and drops the others. Spans beyond 100 years are
/// cut to that.
class IoTimers final : public Timers {
 public:
  explicit IoTimers(Io& io);
  ~IoTimers() override;
  TimerId after(std::chrono::nanoseconds real_time, std::function<void()> then) override;
  void cancel(TimerId timer) override;

 private:
  struct State;
  Io& io_;
  std::shared_ptr<State> state_;
};

}  // namespace transport
