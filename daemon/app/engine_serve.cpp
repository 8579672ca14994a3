#include "app/engine.h"
#include "app/lanes.h"
#include "app/looking.h"
#include "app/printing.h"
#include "app/record_side.h"
#include "app/subscriptions.h"

namespace app {

/// From here on the record is what it takes itself, and for the rest we are.
void Engine::serve_here() {
  served_ = std::make_unique<Served>(parts_.store, parts_.clock, in_shadow(parts_.rules) ? kShadowSource : kServedSource);
  if (types_served(parts_.rules).empty()) return;
  routed_ = std::make_unique<RoutedNetwork>(*parts_.network, parts_.executor, *served_, parts_.rules.configuration.record->base_url, types_served(parts_.rules));
  parts_.network = routed_.get();
}

transport::Response Engine::serve(const ServedRequest& request) {
  bool changed = false;
  if (in_shadow(parts_.rules)) return {404, {{"Content-Type", "text/plain; charset=utf-8"}}, "record.mode is shadow: nothing is served\n"};
  if (!served_ || failed_) return {503, {{"Retry-After", "5"}}, ""};
  auto answer = served_->to_others(request, changed);
  if (!changed) return answer;
  ++pending_;
  after_work();
  return answer;
}

}  // namespace app
