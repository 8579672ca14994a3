#include "app/plan_clock.h"

#include <algorithm>
#include <atomic>
#include <mutex>
#include <random>

namespace app {
namespace {

using std::chrono::duration_cast;
using std::chrono::milliseconds;
using std::chrono::nanoseconds;
using std::chrono::steady_clock;
using std::chrono::system_clock;

class SystemPlanClock final : public PlanClock {
 public:
  explicit SystemPlanClock(Millis not_before) : last_(not_before) {}
  Millis now() override {
    const Millis read = duration_cast<milliseconds>(system_clock::now().time_since_epoch()).count();
    Millis last = last_.load();
    while (read > last && !last_.compare_exchange_weak(last, read)) {
    }
    return std::max(read, last);
  }
  std::optional<nanoseconds> real_time_until(Millis at) override { return milliseconds{std::max<Millis>(0, at - now())}; }
  bool move_to(Millis) override { return false; }
  bool rehearsal() const override { return false; }

 private:
  std::atomic<Millis> last_;
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
