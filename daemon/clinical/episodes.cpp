#include "clinical/episodes.h"

#include <fmt/chrono.h>

#include <algorithm>

namespace clinical {

Alert alert_since(const std::string& trigger, AlertLevel level, const std::string& site, Instant since, Reason why, std::vector<Source> inputs) {
  std::ranges::sort(inputs);
  inputs.erase(std::unique(inputs.begin(), inputs.end()), inputs.end());
  return {trigger, level, site, fmt::format("{}|{}|{:%Y-%m-%dT%H:%M:%SZ}", trigger, site, since), std::move(why), std::move(inputs), since};
}

std::optional<Alert> open_episode(const std::string& trigger, const std::string& site, const std::vector<Sign>& signs) {
  const Sign *first = nullptr, *worst = nullptr;
  std::vector<Source> inputs;
  int normal = 0;
  for (const auto& sign : signs) {
    if (!sign.level) {
      if (first && ++normal == 2) {
        first = worst = nullptr;
        inputs.clear();
      }
      continue;
    }
    normal = 0;
    if (!first) first = &sign;
    if (!worst || *sign.level >= *worst->level) worst = &sign;
    inputs.push_back(*sign.source);
  }
  if (!first) return std::nullopt;
  return alert_since(trigger, *worst->level, site, first->at, worst->why, std::move(inputs));
}

}  // namespace clinical
