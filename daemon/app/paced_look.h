// "Look again", however often it is said: at once the first time, then at most once in a while. Whoever sends many makes the record no busier.
#pragma once

#include <functional>
#include <memory>

#include "app/seams.h"
#include "transport/timers.h"

namespace app {

class PacedLook {
 public:
  PacedLook(Executor& executor, transport::Timers& timers, std::function<void()> look) : executor_(executor), timers_(timers), look_(std::move(look)) {}
  ~PacedLook() { timers_.cancel(timer_); }
  PacedLook(const PacedLook&) = delete;
  PacedLook& operator=(const PacedLook&) = delete;

  /// On the executor. What is asked for during the pause is one look at its end.
  void ask();

 private:
  Executor& executor_;
  transport::Timers& timers_;
  std::function<void()> look_;
  bool resting_ = false, wanted_ = false;
  transport::TimerId timer_{};
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
