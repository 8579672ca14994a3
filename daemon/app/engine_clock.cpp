// The clock of a rehearsal, moved from outside.
#include <utility>

#include "app/engine.h"

namespace app {

void Engine::move_clock(Millis to, std::function<void()> done) {
  clock_target_ = to;
  clock_done_ = std::move(done);
  after_work();
}

/// One stop of a moving rehearsal clock: the next instant at which a plan changes, or the target.
void Engine::step_clock() {
  if (!clock_target_) return;
  const auto next = parts_.store.next_wake();
  if (failed(next, "looking for the next wake-up")) return;
  if (*next && **next <= *clock_target_ && **next > parts_.clock.now()) {
    parts_.clock.move_to(**next);
    parts_.executor.post([this] { after_work(); });
    return;
  }
  parts_.clock.move_to(*clock_target_);
  clock_target_.reset();
  if (auto noted = parts_.store.transaction(parts_.clock.now(), [](store::Store&) -> store::Result<void> { return {}; }); failed(noted, "keeping the clock's reading"))
    return;
  if (auto done = std::exchange(clock_done_, {})) done();
}

}  // namespace app
