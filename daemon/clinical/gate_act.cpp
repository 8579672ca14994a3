// act: exists with heparin, or with a direct thrombin inhibitor whose row demands a value.
#include "clinical/clotting_test.h"
#include "clinical/gate_rules.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::act;

/// Nothing recorded makes the gate exist, but the history is not known: after an intervention heparin must be reckoned with.
std::optional<Draft> without_drug(const SiteEvidence& evidence) {
  if (evidence.facts.intervention == Tristate::no) return std::nullopt;
  const auto history = anticoagulant_history_gate(evidence);  // it applies to every site
  if (history->gate.needs.empty()) return std::nullopt;
  Draft made = draft(kName, GateState::needs, evidence.protocol.act_limit.rule, "gate.act.history-unknown", {}, history->gate.inputs);
  ask_for(made.gate, {Fact::anticoagulant_history, Fact::act});
  return made;
}

Draft needs_draw(const SiteEvidence& evidence, const ClottingTest& act, const std::vector<DoseEnd>& doses, bool only_act) {
  const Setting& limit = evidence.protocol.act_limit;
  const Moment dose = *last_dose(doses);
  std::vector<Source> inputs = sources_of(doses);
  if (act.last) add_sources(inputs, act.last->sources());
  const auto needs = [&](const char* code, Arguments arguments) { return draft(kName, GateState::needs, limit.rule, code, std::move(arguments), inputs); };
  Draft made = [&] {
    switch (act.state) {
      case TestState::no_value: return needs("gate.act.no-value", {{"drawn", act.last->when()}});
      case TestState::before_protamine:
        return act.protamine_clear ? needs("gate.act.after-protamine", {{"from", *act.protamine_clear}}) : needs("gate.act.protamine-unknown", {});
      case TestState::after_bolus:
        return needs("gate.act.after-bolus", {{"drawn", act.last->when()}, {"after", evidence.protocol.act_after_bolus.span()}, {"dose", *act.bolus}, {"from", *act.bolus_mixed}});
      case TestState::unsure: return needs("gate.act.unsure", {{"value", act.last->value()}, {"limit", as_value(limit)}});
      case TestState::stale:
      case TestState::over: return needs("gate.act.stale", {{"value", act.last->value()}, {"drawn", act.last->when()}, {"limit", as_value(limit)}});
      default: return needs(only_act ? "gate.act.draw-act" : "gate.act.draw", {{"dose", when(dose)}, {"limit", as_value(limit)}});
    }
  }();
  ask_for(made.gate, Fact::act);
  if (const auto clear = protamine_clear(evidence); clear && !evidence.clock.reached(*clear)) made.gate.clock_ends = clear;
  if (act.bolus_mixed && !evidence.clock.reached(*act.bolus_mixed)) made.gate.clock_ends = std::max(made.gate.clock_ends, act.bolus_mixed);
  return made;
}

Draft by_value(GateState state, const char* code, const Setting& limit, const ClottingTest& test, const std::vector<DoseEnd>& doses) {
  std::vector<Source> inputs = sources_of(doses);
  add_sources(inputs, test.last->sources());
  Draft made = draft(kName, state, limit.rule, code, {{"value", test.last->value()}, {"drawn", test.last->when()}, {"limit", as_value(limit)}}, inputs);
  made.gate.expires_at = test.fresh_until;
  made.gate.value_seen = test.last->value().written;
  return made;
}

/// Asked for beside an answer, without holding the gate: the analyser, and the repeat after protamine.
void ask_besides(const SiteEvidence& evidence, Gate& gate, const ClottingTest& act) {
  if (act.last && act.last->shown->analyser.empty()) ask_for(gate, Fact::analyser);
  const auto repeat = repeat_after_protamine(evidence);
  if (!repeat) return;
  if (gate.state == GateState::open) gate.why = {gate.why.code + "-repeat", gate.why.arguments}, gate.why.arguments.emplace_back("repeat", *repeat);
  if (evidence.clock.reached(*repeat)) ask_for(gate, Fact::act);
}

Draft judged(const SiteEvidence& evidence, const std::vector<DoseEnd>& doses) {
  const Moment dose = *last_dose(doses);
  const auto [act, aptt, act_over, by_act, by_aptt] = clearing_tests(evidence, dose);
  const Protocol& p = evidence.protocol;
  const bool only_act = !doses_of(evidence, only(Agent::argatroban)).empty();
  Draft made = act_over                                                              ? by_value(GateState::closed, "gate.act.over-limit", p.act_limit, act, doses)
               : by_act && (!by_aptt || *act.fresh_until >= *aptt.fresh_until) ? by_value(GateState::open, "gate.act.open", p.act_limit, act, doses)
               : by_aptt                                                       ? by_value(GateState::open, "gate.act.open-by-aptt", p.aptt_limit, aptt, doses)
                                                                               : needs_draw(evidence, act, doses, only_act);
  ask_besides(evidence, made.gate, act);
  return made;
}

/// The clock stands in for the tests; a value over the limit on file closes the gate all the same, whatever its age.
std::optional<Draft> closed_beside_clock(const SiteEvidence& evidence, const std::vector<DoseEnd>& doses) {
  const auto* over = any_over_since(evidence, Analyte::act, last_dose(doses));
  if (!over) return std::nullopt;
  const Setting& limit = evidence.protocol.act_limit;
  Draft made = draft(kName, GateState::closed, limit.rule, "gate.act.over-limit",
                     {{"value", *over->value}, {"drawn", when(*over->at)}, {"limit", as_value(limit)}}, {over->source});
  ask_for(made.gate, Fact::act);
  return made;
}

}  // namespace

std::optional<Draft> act_gate(const SiteEvidence& evidence) {
  const bool heparin = !heparin_doses(evidence).empty();
  const bool inhibitor = thrombin_inhibitor_demands_test(evidence);
  if (!heparin && !inhibitor) return without_drug(evidence);
  const auto doses = clotting_doses(evidence);
  if (!inhibitor && heparin_clock_applies(evidence)) return closed_beside_clock(evidence, doses);
  if (auto trouble = dose_trouble(kName, evidence.protocol.act_limit.rule, doses)) return trouble;
  return judged(evidence, doses);
}

}  // namespace clinical
