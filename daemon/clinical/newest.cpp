#include "clinical/newest.h"

#include <algorithm>

namespace clinical {
namespace {

bool worse_than(const Measurement& a, const Measurement& b, Worse direction) {
  if (!a.value || !b.value) return a.value && !b.value;  // GCOV_EXCL_BR_LINE where a has a value here, b has none
  return direction == Worse::higher ? a.value->micro > b.value->micro : a.value->micro < b.value->micro;
}

}  // namespace

bool Newest::all(const std::function<bool(const Value&)>& so) const {
  return std::all_of(draws.begin(), draws.end(), [&](const Measurement* m) { return m->value && so(*m->value); });
}
bool Newest::any(const std::function<bool(const Value&)>& so) const {
  return std::any_of(draws.begin(), draws.end(), [&](const Measurement* m) { return m->value && so(*m->value); });
}
std::vector<Source> Newest::sources() const {
  std::vector<Source> found;
  for (const auto* m : draws) add_source(found, m->source);
  return found;
}

std::optional<Newest> newest_of(MeasurementIndex::Measurements measurements, Worse direction) {
  if (measurements.empty()) return std::nullopt;
  Newest found;
  found.drawn = (*std::max_element(measurements.begin(), measurements.end(), [](const auto* a, const auto* b) {
                  return a->at->earliest < b->at->earliest;
                }))->at->earliest;
  for (const auto* m : measurements) {
    if (m->at->latest < found.drawn) continue;
    found.draws.push_back(m);
    if (!found.shown || worse_than(*m, *found.shown, direction)) found.shown = m;
  }
  return found;
}

std::optional<Newest> newest(const Evidence& evidence, Analyte analyte, Worse direction) {
  return newest_of(evidence.measurements(analyte), direction);
}

}  // namespace clinical
