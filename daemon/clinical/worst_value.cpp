#include "clinical/worst_value.h"

#include <algorithm>

namespace clinical {
namespace {

std::vector<const Measurement*> timed_values(const CaseFacts& facts, Analyte analyte) {
  std::vector<const Measurement*> found;
  for (const auto& m : facts.measurements)
    if (m.analyte == analyte && m.value && m.at) found.push_back(&m);
  return found;
}

}  // namespace

std::vector<const Measurement*> telling_values(const SiteView& view, Analyte analyte, const Setting& fresh, const Tells& tells) {
  const Instant start = view.facts.start;
  const Instant until = view.site.t0.value_or(view.clock.now() + view.protocol.future_tolerance.span());
  std::vector<const Measurement*> within, before, after;
  for (const auto* m : timed_values(view.facts, analyte)) {
    if (tells && !tells(*m)) continue;
    if (m->at->earliest > until) after.push_back(m);
    else if (m->at->latest >= start) within.push_back(m);
    else if (m->at->earliest + fresh.span() >= start) before.push_back(m);
  }
  if (!within.empty()) return within;
  const auto newest = [](const auto* a, const auto* b) { return a->at->latest < b->at->latest; };
  if (!before.empty()) return {*std::max_element(before.begin(), before.end(), newest)};
  if (!after.empty()) return {*std::min_element(after.begin(), after.end(), newest)};
  return {};
}

std::vector<const Measurement*> pressures_at(const SiteView& view, Analyte analyte, Instant at) {
  const Measurement* newest = nullptr;
  const Instant until = at == view.clock.now() ? at + view.protocol.future_tolerance.span() : at;
  for (const auto* m : timed_values(view.facts, analyte))
    if (m->at->latest <= until && m->at->earliest + view.protocol.fresh_pressure.span() >= at && (!newest || m->at->latest > newest->at->latest)) newest = m;
  std::vector<const Measurement*> found;
  if (!newest) return found;
  for (const auto* m : timed_values(view.facts, analyte))
    if (m->at->latest <= newest->at->latest && m->at->latest + view.protocol.pressure_window.span() >= newest->at->latest) found.push_back(m);
  if (at == view.clock.now()) view.clock.still(newest->at->earliest + view.protocol.fresh_pressure.span());
  return found;
}

}  // namespace clinical
