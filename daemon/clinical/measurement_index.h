// The measurements of a case by what was measured, so that no rule has to look through all of them.
#pragma once

#include <array>
#include <span>
#include <vector>

#include "clinical/facts.h"

namespace clinical {

class MeasurementIndex {
 public:
  using Measurements = std::span<const Measurement* const>;

  /// Points into `measurements`, which must stay as they are while it is used.
  explicit MeasurementIndex(const std::vector<Measurement>& measurements);

  /// All of one kind as they stand in the case, untimed ones too. Empty: none.
  Measurements of(Analyte analyte) const { return all_.of(analyte); }
  /// The timed ones of one kind by Moment's order; those of one Moment as they stand in the case. Empty: none.
  Measurements timed(Analyte analyte) const { return by_time_.of(analyte); }

 private:
  static constexpr std::size_t kAnalytes = static_cast<std::size_t>(Analyte::temperature) + 1;

  struct Groups {
    std::vector<const Measurement*> in_order;         // one analyte after the other
    std::array<std::size_t, kAnalytes + 1> begin{};   // of each analyte; the last is the end
    Measurements of(Analyte analyte) const {
      const auto i = static_cast<std::size_t>(analyte);
      return std::span(in_order).subspan(begin[i], begin[i + 1] - begin[i]);
    }
  };
  void group(const std::vector<Measurement>&);
  void sort();

  Groups all_, by_time_;
};

}  // namespace clinical
