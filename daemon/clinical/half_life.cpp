#include "clinical/half_life.h"

#include <algorithm>
#include <cmath>

#include "clinical/clearance.h"
#include "clinical/liver.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

double number(Micro micro) { return static_cast<double>(micro) / kMicro; }

constexpr std::initializer_list<Micro> kEdges{whole(80), whole(50), whole(30)};  // the bands that the settings' names state

HalfLife from(const Setting& setting) {
  return {setting.span(), {setting.rule.key, setting.rule.source, {}, {"agent.half-life", {{"half-life", setting.span()}}}}};
}

/// The row that the kidneys choose; none where the clearance is not known. `rows` has one more entry than `edges`; null: no half-life there.
std::optional<HalfLife> by_clearance(const Evidence& evidence, std::initializer_list<Micro> edges, std::initializer_list<const Setting*> rows) {
  const ClearanceResult clearance = clearance_of(evidence);
  const auto row = clearance_row(clearance, edges);
  if (!row || !rows.begin()[*row]) return std::nullopt;
  HalfLife found = from(*rows.begin()[*row]);
  found.basis.inputs = clearance_sources(clearance);
  return found;
}

std::optional<HalfLife> heparin(const Evidence& evidence, const std::vector<Input>& given) {
  const auto weight = weight_of(evidence);
  if (given.empty() || !weight) return std::nullopt;
  const Protocol& p = evidence.protocol;
  Instant last = given.front().end;
  for (const auto& input : given) last = std::max(last, input.end);
  const double dose = amount_at(given, p.heparin_half_life_400.span(), last) / *weight;
  const Setting& point = dose <= 25 ? p.heparin_half_life_25 : dose <= 100 ? p.heparin_half_life_100 : p.heparin_half_life_400;
  const seconds length{std::llround(60 * heparin_half_life(p, dose))};
  const auto whole_units = whole(std::llround(dose));
  return HalfLife{length, {point.rule.key, point.rule.source, {}, {"agent.heparin-half-life", {{"dose", computed(whole_units, "U/kg")}, {"half-life", std::chrono::round<minutes>(length)}}}}};
}

std::optional<HalfLife> bivalirudin(const Evidence& evidence) {
  const Protocol& p = evidence.protocol;
  if (evidence.risk(RiskKind::dialysis)) return from(p.bivalirudin_half_life_dialysis);
  return by_clearance(evidence, {p.bivalirudin_clearance_moderate.micro, p.bivalirudin_clearance_severe.micro, p.bivalirudin_clearance_ask.micro},
                      {&p.bivalirudin_half_life, &p.bivalirudin_half_life_moderate, &p.bivalirudin_half_life_severe, &p.bivalirudin_half_life_dialysis});
}

}  // namespace

double heparin_half_life(const Protocol& p, double units_per_kg) {
  const struct {
    double dose, minutes;
  } points[] = {{25, number(p.heparin_half_life_25.micro)}, {100, number(p.heparin_half_life_100.micro)}, {400, number(p.heparin_half_life_400.micro)}};
  if (units_per_kg <= points[0].dose) return points[0].minutes;
  for (int i = 1; i < 3; ++i)
    if (units_per_kg <= points[i].dose)
      return std::lerp(points[i - 1].minutes, points[i].minutes, (units_per_kg - points[i - 1].dose) / (points[i].dose - points[i - 1].dose));
  return points[2].minutes;
}

std::optional<HalfLife> half_life_of(const Evidence& evidence, Agent agent, const std::vector<Input>& given) {
  const Protocol& p = evidence.protocol;
  switch (agent) {
    case Agent::heparin: return heparin(evidence, given);
    case Agent::enoxaparin: return by_clearance(evidence, {p.lmwh_clearance.micro}, {&p.enoxaparin_half_life, &p.enoxaparin_half_life_impaired});
    case Agent::dalteparin:
      if (evidence.risk(RiskKind::dialysis)) return from(p.dalteparin_half_life_dialysis);
      return by_clearance(evidence, {p.lmwh_clearance.micro}, {&p.dalteparin_half_life, nullptr});
    case Agent::fondaparinux:
      return by_clearance(evidence, kEdges, {&p.fondaparinux_half_life, &p.fondaparinux_half_life_50_80, &p.fondaparinux_half_life_30_50, &p.fondaparinux_half_life_under_30});
    case Agent::bivalirudin: return bivalirudin(evidence);
    case Agent::argatroban:
      return from(liver_of(evidence).impaired() ? p.argatroban_half_life_liver : p.argatroban_half_life);
    case Agent::eptifibatide: return by_clearance(evidence, {p.eptifibatide_clearance.micro}, {&p.eptifibatide_half_life, &p.eptifibatide_half_life_impaired});
    case Agent::tirofiban:
      return by_clearance(evidence, {p.tirofiban_clearance.micro, p.tirofiban_clearance_severe.micro},
                          {&p.tirofiban_half_life, &p.tirofiban_half_life_impaired, &p.tirofiban_half_life_severe});
    case Agent::cangrelor: return from(p.cangrelor_half_life);
    case Agent::apixaban: return by_clearance(evidence, {whole(50)}, {&p.apixaban_half_life, &p.apixaban_half_life_impaired});
    case Agent::rivaroxaban: return from(p.rivaroxaban_half_life);
    case Agent::edoxaban: return by_clearance(evidence, {whole(30)}, {&p.edoxaban_half_life, &p.edoxaban_half_life_severe});
    case Agent::dabigatran:
      return by_clearance(evidence, kEdges, {&p.dabigatran_half_life_over_80, &p.dabigatran_half_life_50_80, &p.dabigatran_half_life_30_50, &p.dabigatran_half_life_under_30});
    case Agent::warfarin: return from(p.warfarin_half_life);
    case Agent::alteplase: return from(p.alteplase_half_life);
    case Agent::tenecteplase: return from(p.tenecteplase_half_life);
    case Agent::reteplase: return from(p.reteplase_half_life);
    default: return std::nullopt;
  }
}

}  // namespace clinical
