// warfarin-inr: any INR on file is judged; with warfarin, its reversal or unknown home drugs one is demanded.
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::warfarin_inr;

Draft needs(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  Draft made = draft(kName, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, Fact::inr);
  return made;
}

/// What is demanded of the value: after the last dose where one of these drugs was given, or fresh where home drugs are unknown.
struct Demand {
  std::vector<DoseEnd> doses;
  bool home_unknown = false;
  bool any() const { return home_unknown || !doses.empty(); }
};
Demand demand_of(const SiteEvidence& evidence) {
  const auto home = home_anticoagulants_gate(evidence);  // it applies to every site
  return {doses_of(evidence, moves_inr, Home::with), home->gate.state != GateState::open};
}

Draft judged(const Newest& last, const Protocol& p, bool expires, const Setting& freshness) {
  const auto gate = [&](GateState state, const char* code, const Setting& limit) {
    Draft made = draft(kName, state, limit.rule, code, {{"value", last.value()}, {"drawn", last.when()}, {"limit", as_value(limit)}}, last.sources());
    made.gate.value_seen = last.value().written;
    if (expires) made.gate.expires_at = last.drawn + freshness.span();
    return made;
  };
  if (last.any([&](const Value& v) { return surely_above(v, p.inr_ask.micro); })) return gate(GateState::closed, "gate.warfarin-inr.over", p.inr_ask);
  if (last.all([&](const Value& v) { return surely_at_most(v, p.inr_open.micro); })) return gate(GateState::open, "gate.warfarin-inr.open", p.inr_open);
  if (last.all([&](const Value& v) { return surely_at_most(v, p.inr_ask.micro); })) {
    Draft ask = gate(GateState::ask, "gate.warfarin-inr.between", p.inr_open);
    ask.severity = last.value().micro;
    return ask;
  }
  return needs("gate.warfarin-inr.unsure", {{"value", last.value()}, {"limit", as_value(p.inr_open)}}, p.inr_open.rule, last.sources());
}

}  // namespace

std::optional<Draft> warfarin_inr_gate(const SiteEvidence& evidence) {
  const Protocol& p = evidence.protocol;
  const Demand demand = demand_of(evidence);
  const auto last = newest(evidence, Analyte::inr, Worse::higher);
  if (!last && !demand.any()) return std::nullopt;
  const Setting& freshness = demand.doses.empty() ? p.fresh_inr : p.fresh_inr_demanded;
  if (!last) {
    return demand.doses.empty() ? needs("gate.warfarin-inr.home-unknown", {}, freshness.rule, {})
                                : needs("gate.warfarin-inr.none", {{"agent", term(demand.doses.front().agent)}}, freshness.rule, sources_of(demand.doses));
  }
  if (!last->has_value()) return needs("gate.warfarin-inr.no-value", {{"drawn", last->when()}}, freshness.rule, last->sources());
  const Arguments seen{{"value", last->value()}, {"drawn", last->when()}};
  const bool fresh = evidence.fresh(last->drawn, freshness);
  const bool over = last->any([&](const Value& v) { return surely_above(v, p.inr_ask.micro); });
  if (over && fresh) return judged(*last, p, true, freshness);
  if (auto trouble = dose_trouble(kName, freshness.rule, demand.doses)) return trouble;
  if (const auto dose = last_dose(demand.doses); dose && !drawn_after({last->drawn, last->drawn}, *dose))
    return needs("gate.warfarin-inr.before-dose", seen, freshness.rule, last->sources());
  if (fresh) return judged(*last, p, true, freshness);
  const bool low = last->all([&](const Value& v) { return surely_at_most(v, p.inr_open.micro); });
  if (demand.any() || !low) return needs("gate.warfarin-inr.stale", seen, freshness.rule, last->sources());
  return judged(*last, p, false, freshness);
}

}  // namespace clinical
