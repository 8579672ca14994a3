// The fall of the ACT: ACT(t) = B + (A - B) x 2^(-t/T). Pure arithmetic; act_projection.cpp says when it may be used.
// T of 48 to 131 min from trial means and a chart audit (Chin J Cardiol 2013;41:480; audit of 44 PCI patients): says when to draw, never that it is safe.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "clinical/instant.h"

namespace clinical {

/// Median and 90th percentile of the log-normal half-life of the excess, in minutes.
struct HalfLifePrior {
  double median = 0, slow = 0;
  friend bool operator==(const HalfLifePrior&, const HalfLifePrior&) = default;
};

/// One measured ACT, s.
struct ActPoint {
  Instant at;
  double value = 0;
  friend bool operator==(const ActPoint&, const ActPoint&) = default;
};

class ActCurve {
 public:
  /// `anchor` is taken as exact; each later point weighs the half-lives by its distance from their curves (normal, `error` s).
  ActCurve(ActPoint anchor, double baseline, HalfLifePrior prior, const std::vector<ActPoint>& later, double error);

  /// The same curve with further points after `later`: those that it has are not weighed again.
  void add(std::span<const ActPoint> points);
  /// It was made of these.
  bool is_of(ActPoint anchor, double baseline, HalfLifePrior prior, double error) const {
    return anchor_ == anchor && baseline_ == baseline && prior_ == prior && error_ == error;
  }
  const std::vector<ActPoint>& later() const { return later_; }

  /// When `share` (0..1) of the curves have crossed `limit`, to the nearest second. Needs baseline < limit < anchor.
  Instant crossed(double limit, double share) const;
  /// The half-life, in minutes, that `share` of the weight does not exceed.
  double half_life(double share) const;

 private:
  void weigh(const ActPoint&);
  void sum_up();

  ActPoint anchor_;
  double baseline_;
  HalfLifePrior prior_;
  double error_;
  std::vector<ActPoint> later_;
  std::vector<double> half_lives_, log_weights_, cumulative_;
};

/// The last curve of a case. The next one is mostly the same with a further draw.
class LastActCurve {
 public:
  /// As ActCurve's constructor.
  const ActCurve& of(ActPoint anchor, double baseline, HalfLifePrior prior, const std::vector<ActPoint>& later, double error);

 private:
  std::optional<ActCurve> curve_;
};

/// Minutes in which an excess falls from `from` to `to`, both above the baseline, with this half-life.
double minutes_to_fall(double from, double to, double baseline, double half_life);

}  // namespace clinical
