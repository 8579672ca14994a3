#include "clinical/body.h"

#include <algorithm>
#include <cmath>

#include "clinical/age.h"

namespace clinical {
namespace {

bool readable(const Measurement* m) { return m->value && m->value->exact() && m->value->micro > 0; }
bool older(const Measurement* a, const Measurement* b) { return a->at->latest < b->at->latest; }

/// Those of the newest time; none where none of them can be read: an older one is not what it says.
std::vector<const Measurement*> newest_readable(std::vector<const Measurement*> values) {
  if (values.empty()) return values;
  const Instant newest = (*std::ranges::max_element(values, older))->at->latest;
  std::erase_if(values, [&](const Measurement* m) { return m->at->latest < newest || !readable(m); });
  return values;
}

}  // namespace

// A result that cannot be read says something only where nothing newer can: then the weight is not known.
std::vector<const Measurement*> weights_of(const Evidence& now, Instant until) {
  const auto& facts = now.facts;
  const auto& stay = facts.encounter ? facts.encounter->start : std::nullopt;
  const Instant oldest = facts.start - now.protocol.fresh_weight.span();
  std::vector<const Measurement*> within, before;
  const Measurement* later = nullptr;
  for (const auto* m : now.index().of(Analyte::weight)) {
    if (!m->at || !now.clock.reached(m->at->earliest)) continue;
    if (m->at->earliest > until) {
      if (readable(m) && !later) later = m;  // they stand by time
    } else if (m->at->latest >= facts.start) {
      within.push_back(m);
    } else if (m->at->earliest >= oldest || (stay && m->at->earliest >= stay->earliest)) {
      before.push_back(m);
    }
  }
  if (within.empty()) within = newest_readable(std::move(before));
  else if (newest_readable(within).empty()) within.clear();
  std::erase_if(within, [](const Measurement* m) { return !readable(m); });
  if (within.empty() && later) within.push_back(later);
  return within;
}

const Measurement* height_of(const Evidence& now, Instant until) {
  const auto& birth = now.facts.patient.birth;
  const Measurement *newest = nullptr, *later = nullptr;
  for (const auto* m : now.index().of(Analyte::height)) {
    if (!m->at || !readable(m) || !now.clock.reached(m->at->earliest) || !birth) continue;
    if (youngest_age(*birth, m->at->earliest) < now.protocol.adult_age.whole_number()) continue;  // any adult height will do
    if (m->at->earliest <= until) newest = m;  // they stand by time
    else if (!later) later = m;
  }
  return newest ? newest : later;
}

std::vector<Body> bodies_of(const Evidence& now, Instant until) {
  std::vector<Body> bodies;
  const auto* height = height_of(now, until);
  if (!height) return bodies;
  const double cm = static_cast<double>(height->value->micro) / static_cast<double>(kMicro);
  for (const auto* weight : weights_of(now, until)) {
    const double kg = static_cast<double>(weight->value->micro) / static_cast<double>(kMicro);
    bodies.push_back({kg / (cm * cm) * 1e4, std::sqrt(cm * kg / 3600.0), {weight->source, height->source}});
  }
  return bodies;
}

}  // namespace clinical
