#include "clinical/episodes.h"

#include <fmt/chrono.h>

#include <algorithm>

namespace clinical {

Alert alert_since(const std::string& trigger, AlertLevel level, const std::string& site, Instant since, Reason why, std::vector<Source> inputs) {
  std::ranges::sort(inputs);
  inputs.erase(std::unique(inputs.begin(), inputs.end()), inputs.end());
  return {trigger, level, site, fmt::format("{}|{}|{:%Y-%m-%dT%H:%M:%SZ}", trigger, site, since), std::move(why), std::move(inputs), since};
}

void Episode::take(Sign sign) {
  if (!sign.level) return take_normal(sign.at);
  normal_ = 0;
  if (!since_) since_ = sign.at;
  inputs_.push_back(*sign.source);
  if (!worst_ || *sign.level >= *worst_->level) worst_ = std::move(sign);
}

void Episode::take_normal(Instant at) {
  if (!since_ || (normal_ > 0 && at == last_normal_)) return;
  last_normal_ = at;
  if (++normal_ == 2) *this = {};
}

std::optional<Alert> Episode::alert(const std::string& trigger, const std::string& site) {
  if (!since_) return std::nullopt;
  return alert_since(trigger, *worst_->level, site, *since_, std::move(worst_->why), std::move(inputs_));
}

}  // namespace clinical
