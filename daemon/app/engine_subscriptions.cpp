#include "app/engine.h"
#include "app/looking.h"
#include "app/record_side.h"
#include "app/subscriptions.h"

namespace app {

std::unique_ptr<Subscriptions> Engine::make_subscriptions() {
  const auto take = [this](std::vector<store::NewEvent> events, std::vector<Heard> heard, std::function<void(bool)> done) {
    submit({std::move(events), {}, std::move(heard), [done = std::move(done)](bool durable, bool) { done(durable); }});
  };
  return std::make_unique<Subscriptions>(SubscriptionParts{
      .store = parts_.store, .clock = parts_.clock, .executor = parts_.executor, .timers = parts_.timers, .send = record_->sender(), .rules = parts_.rules, .log = parts_.log,
      .alarms = alarms_, .hooks = hooks_, .catch_up = [this](std::function<void(bool)> then) { looking_->round(std::move(then)); }, .submit = take,
      .store_failed = [this](const store::Error& error, const char* doing) { check(error, doing); }, .rested = [this] { after_work(); }});
}

bool Engine::asking() const { return !searching_.empty() || (looking_ && looking_->busy()) || (subscriptions_ && subscriptions_->busy()); }

}  // namespace app
