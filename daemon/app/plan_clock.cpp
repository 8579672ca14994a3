#include "app/plan_clock.h"

#include <fmt/format.h>

#include <algorithm>
#include <mutex>
#include <random>

namespace app {
namespace {

using std::chrono::duration_cast;
using std::chrono::milliseconds;
using std::chrono::nanoseconds;
using std::chrono::steady_clock;
using std::chrono::system_clock;

constexpr milliseconds kSetBack = std::chrono::seconds{5};      // less is how clocks are kept right
constexpr milliseconds kSetAhead = std::chrono::minutes{1};
constexpr milliseconds kToldFor = std::chrono::hours{1};

std::string minutes_text(Millis ms) { return fmt::format("{} min {} s", ms / 60'000, ms / 1000 % 60); }

class SystemPlanClock final : public PlanClock {
 public:
  explicit SystemPlanClock(Millis not_before) : last_(not_before) {}
  Millis now() override {
    const std::scoped_lock lock(mutex_);
    return read();
  }
  std::optional<nanoseconds> real_time_until(Millis at) override { return milliseconds{std::max<Millis>(0, at - now())}; }
  bool move_to(Millis) override { return false; }
  bool rehearsal() const override { return false; }
  Millis machine() override { return duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count(); }
  std::string trouble() override {
    const std::scoped_lock lock(mutex_);
    read();
    if (behind_ > kSetBack.count())
      return fmt::format("the machine's clock is {} behind what it was: plans and sheets stand at the later time until it has caught up; look which of the two is right", minutes_text(behind_));
    if (ahead_ > 0 && steady_clock::now() - set_ahead_ < kToldFor)
      return fmt::format("the machine's clock went ahead by {} at once (it was set, or the machine slept): look whether it is right", minutes_text(ahead_));
    return {};
  }

 private:
  /// Never back. What the two clocks of the machine count between two readings should be the same.
  Millis read() {
    const Millis wall = duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
    const auto steady = steady_clock::now();
    if (wall_ != 0)
      if (const Millis jump = wall - wall_ - duration_cast<milliseconds>(steady - steady_).count(); jump > kSetAhead.count()) ahead_ = jump, set_ahead_ = steady;
    wall_ = wall, steady_ = steady;
    behind_ = std::max<Millis>(0, last_ - wall);
    return last_ = std::max(last_, wall);
  }

  std::mutex mutex_;
  Millis last_, wall_ = 0, behind_ = 0, ahead_ = 0;
  steady_clock::time_point steady_{}, set_ahead_{};
};

class RehearsalPlanClock final : public PlanClock {
 public:
  RehearsalPlanClock(Millis from, double speed) : speed_(speed), base_(from), started_(steady_clock::now()) {}
  Millis now() override {
    const std::scoped_lock lock(mutex_);
    return read();
  }
  std::optional<nanoseconds> real_time_until(Millis at) override {
    const std::scoped_lock lock(mutex_);
    const Millis left = at - read();
    if (left <= 0) return nanoseconds{0};
    if (speed_ <= 0) return std::nullopt;
    return nanoseconds{static_cast<std::int64_t>(static_cast<double>(left) / speed_ * 1e6)};
  }
  bool move_to(Millis at) override {
    const std::scoped_lock lock(mutex_);
    base_ = std::max(at, read());
    started_ = steady_clock::now();
    return true;
  }
  bool rehearsal() const override { return true; }

 private:
  Millis read() const {
    const auto real = duration_cast<nanoseconds>(steady_clock::now() - started_).count();
    return base_ + static_cast<Millis>(static_cast<double>(real) * speed_ / 1e6);
  }
  std::mutex mutex_;
  double speed_;
  Millis base_;
  steady_clock::time_point started_;
};

class SystemRandom final : public RandomSource {
 public:
  std::uint64_t next() override { return (static_cast<std::uint64_t>(device_()) << 32) | device_(); }

 private:
  std::random_device device_;
};

}  // namespace

std::unique_ptr<PlanClock> system_plan_clock(Millis not_before) { return std::make_unique<SystemPlanClock>(not_before); }
std::unique_ptr<PlanClock> rehearsal_plan_clock(Millis from, double speed, Millis not_before) {
  return std::make_unique<RehearsalPlanClock>(std::max(from, not_before), speed);
}
std::unique_ptr<RandomSource> system_random() { return std::make_unique<SystemRandom>(); }

}  // namespace app
