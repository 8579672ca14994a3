#include "clinical/measurement_index.h"

#include <algorithm>
#include <utility>

namespace clinical {

void MeasurementIndex::group(const std::vector<Measurement>& measurements) {
  std::array<std::size_t, kAnalytes> next{};  // first how many there are, then where the next one goes
  for (const auto& m : measurements) ++next[static_cast<std::size_t>(m.analyte)];
  for (std::size_t i = 0; i < kAnalytes; ++i) all_.begin[i + 1] = all_.begin[i] + std::exchange(next[i], all_.begin[i]);
  all_.in_order.resize(measurements.size());
  for (const auto& m : measurements) all_.in_order[next[static_cast<std::size_t>(m.analyte)]++] = &m;
}

void MeasurementIndex::sort() {
  const auto earlier = [](const Measurement* a, const Measurement* b) { return *a->at < *b->at; };
  by_time_.in_order.reserve(all_.in_order.size());
  for (std::size_t i = 0; i < kAnalytes; ++i) {
    for (const auto* m : all_.of(static_cast<Analyte>(i)))
      if (m->at) by_time_.in_order.push_back(m);
    by_time_.begin[i + 1] = by_time_.in_order.size();
    const auto own = std::span(by_time_.in_order).subspan(by_time_.begin[i]);
    if (!std::ranges::is_sorted(own, earlier)) std::ranges::stable_sort(own, earlier);
  }
}

MeasurementIndex::MeasurementIndex(const std::vector<Measurement>& measurements) {
  group(measurements);
  sort();
}

}  // namespace clinical
