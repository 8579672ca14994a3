// low-molecular-weight-heparin, fondaparinux, direct oral anticoagulants: last dose and kidneys, at home or here.
#include "clinical/clearance.h"
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

/// The limits of the rows that its hold was chosen by.
void say_row(Gate& gate, const Protocol& p, const ClearanceResult& clearance, Agent agent) {
  if (agent == Agent::dabigatran) say_clearance(gate, clearance, {whole(80), whole(50), whole(30)});
  else say_clearance(gate, clearance, {(agent == Agent::fondaparinux ? p.fondaparinux_clearance : p.oral_clearance).micro});
}

/// A gate whose clock ends a question: inside the hold `ask`, after it open; where no clock alone may open it, `ask` for good.
Draft ask_until(const SiteEvidence& evidence, GateName name, const std::vector<DoseEnd>& doses, const ClearanceResult& clearance, const HoldOf& hold_of) {
  if (auto trouble = dose_trouble(name, hold_of(doses.front()).rule, doses)) return *trouble;
  const ClockEnd end = clock_end(doses, hold_of);
  const std::string agent = term(end.dose->agent);
  const bool over = evidence.clock.reached(end.at);
  const bool no_clock = clearance.dialysis || clearance.unstable;
  Draft made = draft(name, over && !no_clock ? GateState::open : GateState::ask, end.hold->rule,
                     no_clock ? "gate.drug.no-clock-alone" : over ? "gate.drug.run-out" : "gate.drug.ask-until",
                     no_clock ? Arguments{{"agent", agent}, {"last", when(end.dose->end)}}
                     : over   ? Arguments{{"agent", agent}, {"last", when(end.dose->end)}, {"hold", end.hold->span()}, {"opened", end.at}}
                              : Arguments{{"agent", agent}, {"last", when(end.dose->end)}, {"hold", end.hold->span()}, {"opens", end.at}},
                     sources_of(doses));
  say_row(made.gate, evidence.protocol, clearance, end.dose->agent);
  if (!over) {
    made.gate.clock_ends = end.at;
    if (!end.exact) ask_for(made.gate, Fact::dose_time);
  }
  return made;
}

/// With the row of an unknown clearance the clock would still run.
bool rests_on_clearance(const Evidence& evidence, const std::vector<DoseEnd>& doses, const HoldOf& longest) {
  return last_dose(doses) && !evidence.clock.reached(clock_end(doses, longest).at);
}

const Setting& oral_hold_of(const Protocol& p, const ClearanceResult& clearance, Agent agent) {
  if (agent != Agent::dabigatran) return clearance_row(clearance, {p.oral_clearance.micro}) == 0 ? p.oral_hold : p.oral_hold_impaired;
  const auto row = clearance_row(clearance, {whole(80), whole(50), whole(30)});  // the bands that the settings' names state
  const Setting* const holds[] = {&p.dabigatran_hold_over_80, &p.dabigatran_hold_50_80, &p.dabigatran_hold_30_50, &p.dabigatran_hold_under_30};
  return *holds[row.value_or(3)];
}

/// `needed`: it would not be open without the clearance, so it ends with it.
std::optional<Draft> with_clearance(const Evidence& evidence, Draft made, const ClearanceResult& clearance, bool needed) {
  add_sources(made.gate.inputs, clearance_sources(clearance));
  if (made.gate.state != GateState::open) ask_for(made.gate, clearance.missing);
  else if (needed) made.gate.expires_at = clearance_until(evidence);
  return made;
}

/// The newest anti-Xa drawn since the last dose; none where the protocol has no limit for it: then no level tells anything.
struct AntiXa {
  std::optional<Newest> last;
  bool over = false, under = false;  ///< under: surely, fresh, and not after andexanet, which makes every common level wrong
  Instant fresh_until{};
};
AntiXa anti_xa_since(const Evidence& evidence, const Moment& dose) {
  const Protocol& p = evidence.protocol;
  AntiXa found;
  if (!p.anti_xa_limit) return found;
  const Micro limit = p.anti_xa_limit->micro;
  std::vector<const Measurement*> since;
  for (const auto* m : evidence.measurements(Analyte::anti_xa)) {
    const bool perhaps = !m->at->exact() && m->at->latest > dose.latest && !(m->value && m->value->surely_below(limit));
    if (perhaps || drawn_after(*m->at, dose)) since.push_back(m);
  }
  found.last = newest_of(since, Worse::higher);
  if (!found.last) return found;
  found.over = found.last->any([&](const Value& v) { return v.surely_at_least(limit); });
  if (!p.fresh_anti_xa || !doses_of(evidence, only(Agent::andexanet_alfa)).empty()) return found;
  found.fresh_until = found.last->drawn + p.fresh_anti_xa->span();
  found.under = found.last->has_value() && found.last->all([&](const Value& v) { return v.surely_below(limit); }) && evidence.fresh(found.last->drawn, *p.fresh_anti_xa);
  return found;
}

Draft by_anti_xa(const Protocol& p, const AntiXa& level, const std::vector<DoseEnd>& doses) {
  auto inputs = sources_of(doses);
  for (const auto& source : level.last->sources()) add_source(inputs, source);
  Draft made = draft(GateName::low_molecular_weight_heparin, level.over ? GateState::closed : GateState::open, p.anti_xa_limit->rule,
                     level.over ? "gate.low-molecular-weight-heparin.anti-xa-over" : "gate.low-molecular-weight-heparin.anti-xa-under",
                     {{"value", level.last->value()}, {"at", level.last->when()}, {"limit", as_value(*p.anti_xa_limit)}}, std::move(inputs));
  if (!level.over) made.gate.expires_at = level.fresh_until;
  else ask_for(made.gate, Fact::anti_xa);
  return made;
}

}  // namespace

std::optional<Draft> low_molecular_weight_heparin_gate(const SiteEvidence& evidence) {
  constexpr auto kName = GateName::low_molecular_weight_heparin;
  const auto doses = doses_of(evidence, is_low_molecular_weight_heparin, Home::with);
  if (doses.empty()) return std::nullopt;
  const Protocol& p = evidence.protocol;
  const HoldOf hold_of = [&](const DoseEnd& d) -> const Setting& { return d.route == Route::intravenous ? p.lmwh_intravenous : p.lmwh_subcutaneous; };
  const ClearanceResult clearance = clearance_of(evidence);
  const auto last = last_dose(doses);
  const AntiXa level = last ? anti_xa_since(evidence, *last) : AntiXa{};
  if (level.over) return with_clearance(evidence, by_anti_xa(p, level, doses), clearance, false);
  if (clearance_row(clearance, {p.lmwh_clearance.micro}) == 0) {
    Draft clock = clock_gate(evidence, kName, doses, hold_of);
    say_clearance(clock.gate, clearance, {p.lmwh_clearance.micro});
    return with_clearance(evidence, std::move(clock), clearance, true);
  }
  if (auto trouble = dose_trouble(kName, p.lmwh_clearance.rule, doses)) return with_clearance(evidence, *trouble, clearance, false);
  const ClockEnd end = clock_end(doses, hold_of);
  if (level.under && evidence.clock.reached(end.at)) return by_anti_xa(p, level, doses);
  const char* code = clearance.dialysis || clearance.unstable || clearance.clearance ? "gate.low-molecular-weight-heparin.kidneys"
                                                                                      : "gate.low-molecular-weight-heparin.clearance-unknown";
  Draft made = draft(kName, GateState::ask, p.lmwh_clearance.rule, code, {{"agent", term(end.dose->agent)}, {"last", when(end.dose->end)}}, sources_of(doses));
  if (!evidence.clock.reached(end.at)) made.gate.clock_ends = end.at;
  if (!end.exact) ask_for(made.gate, Fact::dose_time);
  if (p.anti_xa_limit && p.fresh_anti_xa) ask_for(made.gate, Fact::anti_xa);
  return with_clearance(evidence, std::move(made), clearance, false);
}

std::optional<Draft> fondaparinux_gate(const SiteEvidence& evidence) {
  const auto doses = doses_of(evidence, only(Agent::fondaparinux), Home::with);
  if (doses.empty()) return std::nullopt;
  const Protocol& p = evidence.protocol;
  const ClearanceResult clearance = clearance_of(evidence);
  const Setting& hold = clearance_row(clearance, {p.fondaparinux_clearance.micro}) == 0 ? p.fondaparinux_hold : p.fondaparinux_hold_impaired;
  Draft made = ask_until(evidence, GateName::fondaparinux, doses, clearance, [&](const DoseEnd&) -> const Setting& { return hold; });
  return with_clearance(evidence, std::move(made), clearance, rests_on_clearance(evidence, doses, [&](const DoseEnd&) -> const Setting& { return p.fondaparinux_hold_impaired; }));
}

std::optional<Draft> direct_oral_anticoagulant_gate(const SiteEvidence& evidence) {
  const auto doses = doses_of(evidence, is_direct_oral, Home::with);
  if (doses.empty()) return std::nullopt;
  const ClearanceResult clearance = clearance_of(evidence);
  const HoldOf hold_of = [&](const DoseEnd& d) -> const Setting& { return oral_hold_of(evidence.protocol, clearance, d.agent); };
  const HoldOf longest = [&](const DoseEnd& d) -> const Setting& { return oral_hold_of(evidence.protocol, {}, d.agent); };
  return with_clearance(evidence, ask_until(evidence, GateName::direct_oral_anticoagulant, doses, clearance, hold_of), clearance,
                        rests_on_clearance(evidence, doses, longest));
}

}  // namespace clinical
