// When the ACT projection may be shown, and when the next sample is due.
#include <algorithm>

#include "clinical/clotting_test.h"
#include "clinical/gates.h"
#include "clinical/projection.h"

namespace clinical {
namespace {

/// Direct thrombin inhibitors and protamine: the curve of a heparin effect says nothing then.
bool moves_act_too(Agent a) { return is_direct_thrombin_inhibitor(a) || a == Agent::protamine; }

double number(Micro micro) { return static_cast<double>(micro) / kMicro; }

bool exactly_timed(const Measurement& m) { return m.value && m.at->exact(); }

/// One analyser, one sampling site, one test: only then two values stand on one curve. Unknown equals nothing.
bool comparable(const Measurement& a, const Measurement& b) {
  const auto same = [](const std::string& x, const std::string& y) { return !x.empty() && x == y; };
  return same(a.analyser, b.analyser) && same(a.sampling_site, b.sampling_site) && a.test_code == b.test_code;
}

/// The draws after the last dose, by time; a draw without a value or an exact time is among them.
std::vector<const Measurement*> draws_after(const Evidence& evidence, const Moment& dose) {
  std::vector<const Measurement*> after;
  for (const auto* m : evidence.measurements(Analyte::act))
    if (drawn_after(*m->at, dose)) after.push_back(m);
  return after;
}

/// The last comparable value before the first dose of heparin, else the protocol's.
double baseline_for(const Evidence& evidence, const Measurement& anchor) {
  std::optional<Instant> first;
  for (const auto& a : evidence.facts.administrations)
    if (a.agent == Agent::heparin && dose_end(evidence, a)) {
      const auto& begin = a.start ? a.start : a.end;  // each has one: the last dose is known
      if (!first || begin->earliest < *first) first = begin->earliest;
    }
  double baseline = number(evidence.protocol.act_baseline.micro);
  for (const auto* m : evidence.measurements(Analyte::act))
    if (first && exactly_timed(*m) && m->value->exact() && std::chrono::floor<minutes>(m->at->latest) < std::chrono::floor<minutes>(*first) && comparable(*m, anchor))
      baseline = number(m->value->micro);
  return baseline;
}

bool in_range(const Measurement& m, const Protocol& p) {
  return exactly_timed(m) && m.value->exact() && m.value->micro >= p.act_projection_low.micro && m.value->micro <= p.act_projection_high.micro;
}

/// Null: outside what the formula is for.
const ActCurve* curve_of(const Evidence& evidence, const std::vector<const Measurement*>& draws, LastActCurve& last_curve) {
  const Protocol& p = evidence.protocol;
  if (draws.empty() || !in_range(*draws.front(), p) || !doses_of(evidence, moves_act_too).empty()) return nullptr;
  const Measurement& anchor = *draws.front();
  const double baseline = baseline_for(evidence, anchor), limit = number(p.act_limit.micro);
  if (baseline >= limit || anchor.value->micro <= p.act_limit.micro) return nullptr;
  std::vector<ActPoint> later;
  for (const auto* m : draws) {
    if (m == &anchor || !comparable(*m, anchor)) continue;
    if (!in_range(*m, p)) return nullptr;
    later.push_back({m->at->earliest, number(m->value->micro)});
  }
  return &last_curve.of({anchor.at->earliest, number(anchor.value->micro)}, baseline,
                        {number(p.act_half_life.micro), number(p.act_half_life_slow.micro)}, later, number(p.act_error.micro));
}

/// First draw after the last heparin, then one at the 50 % crossing, 30 to 60 min after the last; after protamine as soon as a draw counts.
/// A draw whose instant has passed keeps it.
/// One that gave no value is owed still.
Instant next_draw(const Evidence& evidence, const Moment& dose, std::vector<const Measurement*> draws, const std::optional<Instant>& p50) {
  std::erase_if(draws, [](const Measurement* m) { return !m->value; });
  const Protocol& p = evidence.protocol;
  const auto clear = protamine_clear(evidence);
  if (clear && *clear > dose.latest && (draws.empty() || draws.back()->at->earliest < *clear)) return *clear;
  if (draws.empty()) return dose.latest + p.first_draw.span();
  const Instant last = draws.back()->at->earliest;
  const Instant soonest = last + p.redraw_soonest.span(), latest = last + p.redraw_latest.span();
  return p50 ? std::clamp(*p50, soonest, latest) : soonest;
}

}  // namespace

std::optional<Projection> project_act(const CaseFacts& facts, const Protocol& protocol, const Clock& clock) {
  LastActCurve none;
  return project_act(Evidence(facts, protocol, clock), none);
}

std::optional<Projection> project_act(const Evidence& evidence, LastActCurve& last_curve) {
  const Protocol& protocol = evidence.protocol;
  const auto heparin = heparin_doses(evidence);
  if (heparin.empty() || heparin_clock_applies(evidence)) return std::nullopt;
  const auto doses = clotting_doses(evidence);
  const auto dose = last_dose(doses);
  if (!dose || !dose->exact()) return std::nullopt;
  const auto draws = draws_after(evidence, *dose);
  Projection projection;
  projection.limit = protocol.act_limit.micro;
  if (const auto* curve = curve_of(evidence, draws, last_curve)) {
    const double limit = number(protocol.act_limit.micro);
    projection.p10 = curve->crossed(limit, 0.1);
    projection.p50 = curve->crossed(limit, 0.5);
    projection.p90 = curve->crossed(limit, 0.9);
    projection.computed = true;
  }
  const auto tests = clearing_tests(evidence, *dose);
  const bool wanted = !tests.by_act && !tests.by_aptt;
  if (wanted) projection.next_draw = next_draw(evidence, *dose, draws, projection.p50);
  return projection;
}

}  // namespace clinical
