#include "clinical/ahead.h"

#include <algorithm>
#include <array>

#include "clinical/quantity.h"

namespace clinical {

bool Ahead::bad(const SiteCheck& c) const {
  const bool changed = std::ranges::any_of(std::array{c.foot_pulse, c.colour, c.warmth, c.feeling, c.movement}, [](const auto& seen) {
    return seen.value_or(FootPulse::as_baseline) != FootPulse::as_baseline;
  });
  const bool found = std::ranges::any_of(std::array{c.chest_pain, c.neurological_sign, c.mass_or_bruit, c.skin_damage, c.dizziness}, [](const auto& seen) {
    return seen.value_or(false);
  });
  return changed || found || c.wet() || c.growth.value_or(false) || (c.swelling && c.swelling->micro > 0) ||
         c.back_pain || c.voided == false || (c.pain && !c.pain->surely_below(p_.alert_pain.micro)) ||
         (c.bladder && !c.bladder->surely_below(p_.alert_bladder_tell.micro));
}

bool Ahead::bad(const Administration& a) const {
  switch (a.agent) {
    case Agent::protamine: case Agent::idarucizumab: case Agent::andexanet_alfa: case Agent::vitamin_k: case Agent::prothrombin_complex:
    case Agent::other: return false;
    default: return !a.flush;
  }
}

bool Ahead::fallen(const Measurement& m, Micro by, bool from_open_range) const {
  return std::ranges::any_of(record_.measurements, [&](const Measurement& before) {
    if (before.analyte != m.analyte || !before.value || !before.value->exact() || !before.at || before.at->latest >= m.at->earliest) return false;
    if (from_open_range && (before.value->micro < p_.systolic_low.micro || before.value->micro >= p_.systolic_open_below.micro)) return false;
    return before.value->micro - m.value->micro >= by;
  });
}

bool Ahead::risen(const Measurement& m) const {
  return std::ranges::any_of(record_.measurements, [&](const Measurement& before) {
    return before.analyte == m.analyte && before.value && before.at && before.at->latest < m.at->earliest && before.value->micro < m.value->micro;
  });
}

bool Ahead::bad(const Measurement& m) const {
  if (!m.value || !m.at) return true;
  const Value& v = *m.value;
  switch (m.analyte) {
    case Analyte::act: return !v.surely_below(p_.act_limit.micro);
    case Analyte::aptt: return !v.surely_below(p_.aptt_limit.micro);
    case Analyte::inr: return !surely_at_most(v, p_.inr_open.micro);
    case Analyte::platelets: return !v.surely_at_least(p_.add_platelets_below.micro);
    case Analyte::fibrinogen: return !v.surely_at_least(p_.fibrinogen_limit.micro);
    case Analyte::haemoglobin: return !v.surely_at_least(p_.haemoglobin_low.micro) || fallen(m, p_.haemoglobin_fall.micro, false);
    case Analyte::creatinine: return risen(m);
    case Analyte::systolic:
      return !v.surely_at_least(p_.systolic_low.micro) || !v.surely_below(p_.systolic_open_below.micro) || fallen(m, p_.alert_systolic_fall.micro, true);
    case Analyte::diastolic: return !v.surely_below(p_.diastolic_close.micro);
    case Analyte::heart_rate: return !v.surely_at_least(p_.heart_rate_low_open.micro) || !surely_at_most(v, p_.heart_rate_high_open.micro);
    case Analyte::oxygen_saturation: return !v.surely_at_least(p_.alert_saturation_low.micro) || fallen(m, p_.alert_saturation_fall.micro, false);
    case Analyte::temperature: return !v.surely_below(p_.alert_temperature.micro);
    default: return false;
  }
}

bool Ahead::voids(AccessEventKind kind) {
  return kind == AccessEventKind::compression_started || kind == AccessEventKind::pressure_changed || kind == AccessEventKind::closure_failed ||
         kind == AccessEventKind::rebleed;
}

}  // namespace clinical
