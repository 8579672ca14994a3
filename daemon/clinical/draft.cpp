#include "clinical/draft.h"

#include <algorithm>
#include <map>

#include "clinical/names.h"

namespace clinical {

Draft draft(GateName name, GateState state, const Rule& rule, std::string code, Arguments arguments, std::vector<Source> inputs) {
  Draft made;
  made.gate.name = name;
  made.gate.state = state;
  made.gate.why = {std::move(code), std::move(arguments)};
  made.gate.rule = rule.key;
  made.gate.source = rule.source;
  made.gate.inputs = std::move(inputs);
  return made;
}

const Rule& rule_without_setting(GateName name) {
  static const auto rules = [] {
    std::map<GateName, Rule> made;
    for (const GateName gate : {GateName::access, GateName::anticoagulant_history, GateName::home_anticoagulants, GateName::act})
      made[gate].key = "gate." + std::string(name_of(gate)), made[gate].source = "common practice, no source";
    return made;
  }();
  return rules.at(name);
}

std::string term(Agent agent) { return "@agent." + std::string(name_of(agent)); }
std::string term(GateName gate) { return "@gate." + std::string(name_of(gate)); }
std::string term(Fact fact) { return "@fact." + std::string(name_of(fact)); }

std::optional<Draft> dose_trouble(GateName name, const Rule& rule, const std::vector<DoseEnd>& doses) {
  if (const auto* dose = first_of(doses, DoseEnd::Kind::running))
    return draft(name, GateState::closed, rule, "gate.drug.running", {{"agent", term(dose->agent)}}, {dose->source});
  const struct {
    DoseEnd::Kind kind;
    const char* code;
    Fact fact;
  } unknowns[] = {{DoseEnd::Kind::stop_unknown, "gate.drug.stop-unknown", Fact::stop_time},
                  {DoseEnd::Kind::time_unknown, "gate.drug.time-unknown", Fact::dose_time}};
  for (const auto& unknown : unknowns)
    if (const auto* dose = first_of(doses, unknown.kind)) {
      Draft made = draft(name, GateState::needs, rule, unknown.code, {{"agent", term(dose->agent)}}, {dose->source});
      ask_for(made.gate, unknown.fact);
      return made;
    }
  return std::nullopt;
}

std::optional<Draft> clock_still_runs(const Evidence& evidence, GateName name, const ClockEnd& end, const std::vector<DoseEnd>& doses) {
  if (evidence.clock.reached(end.at)) return std::nullopt;
  const std::string agent = term(end.dose->agent);
  if (end.exact) {
    Draft made = draft(name, GateState::closed, end.hold->rule, "gate.drug.waiting",
                       {{"agent", agent}, {"last", when(end.dose->end)}, {"hold", end.hold->span()}, {"opens", end.at}}, sources_of(doses));
    made.gate.opens_at = end.at;
    return made;
  }
  Draft made = draft(name, GateState::needs, end.hold->rule, "gate.drug.time-inexact", {{"agent", agent}, {"until", end.at}}, sources_of(doses));
  made.gate.clock_ends = end.at;
  ask_for(made.gate, end.dose->infusion ? Fact::stop_time : Fact::dose_time);
  return made;
}

Draft clock_gate(const Evidence& evidence, GateName name, const std::vector<DoseEnd>& doses, const HoldOf& hold_of) {
  if (auto trouble = dose_trouble(name, hold_of(doses.front()).rule, doses)) return *trouble;
  const ClockEnd end = clock_end(doses, hold_of);
  if (auto waiting = clock_still_runs(evidence, name, end, doses)) return *waiting;
  return draft(name, GateState::open, end.hold->rule, "gate.drug.run-out",
               {{"agent", term(end.dose->agent)}, {"last", when(end.dose->end)}, {"hold", end.hold->span()}, {"opened", end.at}}, sources_of(doses));
}

void ask_for(Gate& gate, Fact fact) {
  if (std::find(gate.needs.begin(), gate.needs.end(), fact) == gate.needs.end()) gate.needs.push_back(fact);
}
void ask_for(Gate& gate, const std::vector<Fact>& facts) {
  for (const Fact fact : facts) ask_for(gate, fact);
}

}  // namespace clinical
