#include "clinical/measurement_index.h"

#include <algorithm>
#include <utility>

namespace clinical {

MeasurementIndex::Groups MeasurementIndex::grouped(const std::vector<Measurement>& measurements) {
  Groups groups;
  std::array<std::size_t, kAnalytes> next{};  // first how many there are, then where the next one goes
  for (const auto& m : measurements) ++next[static_cast<std::size_t>(m.analyte)];
  for (std::size_t i = 0; i < kAnalytes; ++i) groups.begin[i + 1] = groups.begin[i] + std::exchange(next[i], groups.begin[i]);
  groups.in_order.resize(measurements.size());
  for (const auto& m : measurements) groups.in_order[next[static_cast<std::size_t>(m.analyte)]++] = &m;
  return groups;
}

MeasurementIndex::Groups MeasurementIndex::by_time(const Groups& all) {
  const auto earlier = [](const Measurement* a, const Measurement* b) { return *a->at < *b->at; };
  Groups groups;
  groups.in_order.reserve(all.in_order.size());
  for (std::size_t i = 0; i < kAnalytes; ++i) {
    for (const auto* m : all.of(static_cast<Analyte>(i)))
      if (m->at) groups.in_order.push_back(m);
    groups.begin[i + 1] = groups.in_order.size();
    const auto own = std::span(groups.in_order).subspan(groups.begin[i]);
    if (!std::ranges::is_sorted(own, earlier)) std::ranges::stable_sort(own, earlier);
  }
  return groups;
}

MeasurementIndex::MeasurementIndex(const std::vector<Measurement>& measurements) : all_(grouped(measurements)), timed_(by_time(all_)) {}

}  // namespace clinical
