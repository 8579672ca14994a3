// fibrinolytic: fibrinogen drawn after the dose; for a day (reteplase longer) a clinician decides as well.
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::fibrinolytic;

Draft needs(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  Draft made = draft(kName, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, Fact::fibrinogen);
  return made;
}

}  // namespace

std::optional<Draft> fibrinolytic_gate(const SiteEvidence& evidence) {
  const auto doses = doses_of(evidence, is_fibrinolytic);
  if (doses.empty()) return std::nullopt;
  const Protocol& p = evidence.protocol;
  const Setting& limit = p.fibrinogen_limit;
  if (auto trouble = dose_trouble(kName, limit.rule, doses)) return trouble;
  const Moment dose = *last_dose(doses);
  std::vector<Source> inputs = sources_of(doses);
  const auto last = newest(evidence, Analyte::fibrinogen, Worse::lower);
  if (!last || !drawn_after({last->drawn, last->drawn}, dose)) return needs("gate.fibrinolytic.draw", {{"dose", when(dose)}}, limit.rule, inputs);
  add_sources(inputs, last->sources());
  if (!last->has_value()) return needs("gate.fibrinolytic.no-value", {{"drawn", last->when()}}, limit.rule, inputs);
  const Arguments seen{{"value", last->value()}, {"drawn", last->when()}, {"limit", as_value(limit)}};
  if (!evidence.fresh(last->drawn, p.fresh_fibrinogen)) return needs("gate.fibrinolytic.stale", seen, p.fresh_fibrinogen.rule, inputs);
  const auto by_value = [&](GateState state, const char* code, Arguments arguments, const Rule& rule) {
    Draft made = draft(kName, state, rule, code, std::move(arguments), inputs);
    made.gate.value_seen = last->value().written;
    made.gate.expires_at = last->drawn + p.fresh_fibrinogen.span();
    return made;
  };
  if (last->any([&](const Value& v) { return v.surely_below(limit.micro); })) return by_value(GateState::closed, "gate.fibrinolytic.below-limit", seen, limit.rule);
  if (!last->all([&](const Value& v) { return v.surely_at_least(limit.micro); })) return needs("gate.fibrinolytic.unsure", seen, limit.rule, inputs);
  const ClockEnd end = clock_end(doses, [&](const DoseEnd& d) -> const Setting& { return d.agent == Agent::reteplase ? p.reteplase_ask : p.fibrinolytic_ask; });
  if (evidence.clock.reached(end.at)) return by_value(GateState::open, "gate.fibrinolytic.open", seen, limit.rule);
  Draft ask = by_value(GateState::ask, "gate.fibrinolytic.recent", {{"agent", term(end.dose->agent)}, {"value", last->value()}, {"opens", end.at}}, end.hold->rule);
  ask.severity = -last->value().micro;
  ask.gate.clock_ends = end.at;
  return ask;
}

}  // namespace clinical
