#include "clinical/body.h"

#include <cmath>

#include "clinical/age.h"

namespace clinical {
namespace {

bool readable(const Measurement& m) { return m.value && m.value->exact() && m.value->micro > 0; }

/// The newest by `until`, else the first after it; none where the newest cannot be read: an older one is not what it says.
template <class Usable>
const Measurement* pick(MeasurementIndex::Measurements measurements, Instant until, Usable usable) {
  const Measurement *newest = nullptr, *later = nullptr;
  for (const auto* m : measurements) {
    if (!m->at || !usable(*m)) continue;
    if (m->at->earliest <= until) {
      if (!newest || m->at->latest > newest->at->latest || (m->at->latest == newest->at->latest && readable(*m))) newest = m;
    } else if (readable(*m) && (!later || m->at->latest < later->at->latest)) {
      later = m;
    }
  }
  return newest && readable(*newest) ? newest : later;
}

}  // namespace

const Measurement* weight_of(const Evidence& now, Instant until) {
  const auto& facts = now.facts;
  const bool stay = facts.encounter && facts.encounter->start;
  const auto oldest = facts.start - now.protocol.fresh_weight.span();
  return pick(now.index().of(Analyte::weight), until, [&](const Measurement& m) {
    return now.clock.reached(m.at->earliest) && (m.at->earliest >= oldest || (stay && m.at->earliest >= facts.encounter->start->earliest));
  });
}

const Measurement* height_of(const Evidence& now, Instant until) {
  const auto& birth = now.facts.patient.birth;
  return pick(now.index().of(Analyte::height), until, [&](const Measurement& m) {
    return readable(m) && now.clock.reached(m.at->earliest) && birth &&  // any adult height will do
           youngest_age(*birth, m.at->earliest) >= now.protocol.adult_age.whole_number();
  });
}

std::optional<Body> body_of(const Evidence& now, Instant until) {
  const auto* weight = weight_of(now, until);
  const auto* height = height_of(now, until);
  if (!weight || !height) return std::nullopt;
  const double kg = static_cast<double>(weight->value->micro) / static_cast<double>(kMicro);
  const double cm = static_cast<double>(height->value->micro) / static_cast<double>(kMicro);
  return Body{kg / (cm * cm) * 1e4, std::sqrt(cm * kg / 3600.0), {weight->source, height->source}};
}

}  // namespace clinical
