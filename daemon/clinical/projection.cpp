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
    : anchor_(anchor), baseline_(baseline), prior_(prior), error_(error) {
  const double spread = std::log(prior.slow / prior.median) / kNormal90;
  half_lives_.reserve(kSteps + 1);
  log_weights_.reserve(kSteps + 1);
  for (int i = 0; i <= kSteps; ++i) {
    const double z = -kReach + 2 * kReach * i / kSteps;
    half_lives_.push_back(prior.median * std::exp(spread * z));
    log_weights_.push_back(-z * z / 2);
  }
  add(later);
}

void ActCurve::add(std::span<const ActPoint> points) {
  for (const auto& point : points) weigh(point);
  later_.insert(later_.end(), points.begin(), points.end());
  sum_up();
}

void ActCurve::weigh(const ActPoint& point) {
  const double since = minutes_between(anchor_.at, point.at), excess = anchor_.value - baseline_;
  for (std::size_t i = 0; i < half_lives_.size(); ++i) {
    const double expected = baseline_ + excess * std::exp2(-since / half_lives_[i]);
    const double off = (point.value - expected) / error_;
    log_weights_[i] -= off * off / 2;
  }
}

void ActCurve::sum_up() {
  cumulative_.clear();
  cumulative_.reserve(log_weights_.size());
  const double highest = *std::max_element(log_weights_.begin(), log_weights_.end());
  double sum = 0, before = 0;
  for (const double log_weight : log_weights_) {
    const double weight = std::exp(log_weight - highest);
    sum += cumulative_.empty() ? 0 : (before + weight) / 2;
    before = weight;
    cumulative_.push_back(sum);
  }
}

const ActCurve& LastActCurve::of(ActPoint anchor, double baseline, HalfLifePrior prior, const std::vector<ActPoint>& later, double error) {
  const auto goes_on = [&](const std::vector<ActPoint>& known) { return known.size() <= later.size() && std::equal(known.begin(), known.end(), later.begin()); };
  if (!curve_ || !curve_->is_of(anchor, baseline, prior, error) || !goes_on(curve_->later())) return curve_.emplace(anchor, baseline, prior, later, error);
  curve_->add(std::span(later).subspan(curve_->later().size()));
  return *curve_;
}

double ActCurve::half_life(double share) const {
  const double wanted = share * cumulative_.back();
  const auto above = std::lower_bound(cumulative_.begin() + 1, cumulative_.end() - 1, wanted);
  const auto i = static_cast<std::size_t>(above - cumulative_.begin());
  const double part = (wanted - cumulative_[i - 1]) / (cumulative_[i] - cumulative_[i - 1]);  // the first that reaches it lies above the one before
  return std::exp(std::lerp(std::log(half_lives_[i - 1]), std::log(half_lives_[i]), part));
}

Instant ActCurve::crossed(double limit, double share) const {
  return anchor_.at + seconds{std::llround(60 * minutes_to_fall(anchor_.value, limit, baseline_, half_life(share)))};
}

}  // namespace clinical
