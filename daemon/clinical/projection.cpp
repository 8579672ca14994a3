#include "clinical/projection.h"

#include <algorithm>
#include <cmath>

namespace clinical {
namespace {

constexpr int kSteps = 600;            // grid of the standard normal deviate, -6 .. 6
constexpr double kReach = 6;
constexpr double kNormal90 = 1.2815515655446004;  // 90th percentile of the standard normal distribution

double minutes_between(Instant from, Instant to) { return static_cast<double>((to - from).count()) / 60; }

}  // namespace

double minutes_to_fall(double from, double to, double baseline, double half_life) {
  return half_life * std::log2((from - baseline) / (to - baseline));
}

ActCurve::ActCurve(ActPoint anchor, double baseline, HalfLifePrior prior, const std::vector<ActPoint>& later, double error)
    : anchor_(anchor), baseline_(baseline) {
  const double spread = std::log(prior.slow / prior.median) / kNormal90;
  const double excess = anchor.value - baseline;
  std::vector<double> since;  // minutes from the anchor to each later point
  for (const auto& point : later) since.push_back(minutes_between(anchor.at, point.at));
  std::vector<double> logs;
  logs.reserve(kSteps + 1);
  half_lives_.reserve(kSteps + 1);
  cumulative_.reserve(kSteps + 1);
  for (int i = 0; i <= kSteps; ++i) {
    const double z = -kReach + 2 * kReach * i / kSteps;
    const double half_life = prior.median * std::exp(spread * z);
    double log_weight = -z * z / 2;
    for (std::size_t k = 0; k < later.size(); ++k) {
      const double expected = baseline + excess * std::exp2(-since[k] / half_life);
      const double off = (later[k].value - expected) / error;
      log_weight -= off * off / 2;
    }
    half_lives_.push_back(half_life);
    logs.push_back(log_weight);
  }
  const double highest = *std::max_element(logs.begin(), logs.end());
  double sum = 0, before = 0;
  for (const double log_weight : logs) {
    const double weight = std::exp(log_weight - highest);
    sum += cumulative_.empty() ? 0 : (before + weight) / 2;
    before = weight;
    cumulative_.push_back(sum);
  }
}

double ActCurve::half_life(double share) const {
  const double wanted = share * cumulative_.back();
  const auto above = std::lower_bound(cumulative_.begin() + 1, cumulative_.end() - 1, wanted);
  const auto i = static_cast<std::size_t>(above - cumulative_.begin());
  const double step = cumulative_[i] - cumulative_[i - 1];
  const double part = step > 0 ? (wanted - cumulative_[i - 1]) / step : 1;
  return std::exp(std::lerp(std::log(half_lives_[i - 1]), std::log(half_lives_[i]), part));
}

Instant ActCurve::crossed(double limit, double share) const {
  return anchor_.at + seconds{std::llround(60 * minutes_to_fall(anchor_.value, limit, baseline_, half_life(share)))};
}

}  // namespace clinical
