#include "app/paced_look.h"

namespace app {
namespace {

constexpr std::chrono::seconds kPause{5};  // a look asks for every open case; this program's own choice

}  // namespace

void PacedLook::ask() {
  if (resting_) return void(wanted_ = true);
  resting_ = true;
  wanted_ = false;
  timer_ = timers_.after(kPause, [this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    executor_.post([this, alive] {
      if (!alive.lock()) return;
      resting_ = false;
      if (wanted_) ask();
    });
  });
  look_();
}

}  // namespace app
