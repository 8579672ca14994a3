#include "clinical/worst_value.h"

#include <algorithm>

namespace clinical {
namespace {

bool older(const Measurement* a, const Measurement* b) { return a->at->latest < b->at->latest; }

/// A result without a value says something only where nothing newer has one: then it is not known.
void keep_unreadable_newest(std::vector<const Measurement*>& values) {
  if (values.empty()) return;
  const Instant newest = (*std::ranges::max_element(values, older))->at->latest;
  std::erase_if(values, [&](const Measurement* m) { return !m->value && m->at->latest < newest; });
}

}  // namespace

std::vector<const Measurement*> telling_values(const SiteView& view, Analyte analyte, const Setting& fresh, const Good& good, const Tells& tells) {
  const Instant start = view.facts.start;
  const Instant until = view.site.t0.value_or(view.clock.now() + view.protocol.future_tolerance.span());
  std::vector<const Measurement*> within, before, after;
  for (const auto* m : view.now.index().of(analyte)) {
    if (!m->at) continue;
    if (m->value && tells && !tells(*m)) continue;
    if (m->at->earliest > until && m->value) after.push_back(m);
    else if (m->at->earliest > until) continue;
    else if (m->at->earliest >= start || (m->at->latest >= start && !(m->value && good(*m->value)))) within.push_back(m);
    else if (m->at->earliest + fresh.span() >= start) before.push_back(m);
  }
  keep_unreadable_newest(within);
  if (!within.empty()) return within;
  if (!before.empty()) return {*std::ranges::max_element(before, older)};
  if (!after.empty()) return {*std::ranges::min_element(after, older)};
  return {};
}

std::vector<const Measurement*> pressures_at(const SiteView& view, Analyte analyte, Instant at) {
  const Measurement* newest = nullptr;
  const auto readings = view.now.index().of(analyte);
  const auto read_by = [](const Measurement* m, Instant when) { return m->value && m->at && m->at->latest <= when; };
  const bool present = at == view.clock.now() && view.pulled != at;
  const Instant until = present ? at + view.protocol.future_tolerance.span() : at;
  for (const auto* m : readings)
    if (read_by(m, until) && m->at->earliest + view.protocol.fresh_pressure.span() >= at && (!newest || m->at->latest > newest->at->latest)) newest = m;
  std::vector<const Measurement*> found;
  if (!newest) return found;
  for (const auto* m : readings)
    if (read_by(m, newest->at->latest) && m->at->latest + view.protocol.pressure_window.span() >= newest->at->latest) found.push_back(m);
  if (present) view.clock.still(newest->at->earliest + view.protocol.fresh_pressure.span());
  return found;
}

}  // namespace clinical
