// bivalirudin and argatroban: a clock since the true stop; the value that their rows demand beside it is the gate `act`.
#include "clinical/clearance.h"
#include "clinical/clotting_test.h"
#include "clinical/gate_rules.h"
#include "clinical/liver.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

/// The newest ACT after the stop is at or over the limit, whatever its age: blocks in every row. (An aPTT so closes the gate `aptt`.)
std::optional<Draft> closed_by_act(const SiteEvidence& evidence, GateName name, const std::vector<DoseEnd>& doses) {
  const ClottingTest act = clotting_test(evidence, Analyte::act, *last_dose(doses));
  if (act.state != TestState::over) return std::nullopt;
  const Setting& limit = evidence.protocol.act_limit;
  Draft made = draft(name, GateState::closed, limit.rule, "gate.act.over-limit",
                     {{"value", act.last->value()}, {"drawn", act.last->when()}, {"limit", as_value(limit)}}, act.last->sources());
  ask_for(made.gate, Fact::act);
  return made;
}

const char* unclear_clearance(const ClearanceResult& clearance) {
  if (clearance.dialysis) return "gate.bivalirudin.dialysis";
  if (clearance.unstable) return "gate.bivalirudin.unstable";
  return clearance.clearance ? "gate.bivalirudin.lowest" : "gate.bivalirudin.clearance-unknown";
}

/// No liver disease is recorded, and the value says so: it stands in the sentence, and a question about it is void on a worse one.
void say_transaminase(Draft& made, const Newest& high, const Setting& limit) {
  add_sources(made.gate.inputs, high.sources());
  Gate& gate = made.gate;
  if (gate.why.code != "gate.argatroban.liver-waiting" && gate.why.code != "gate.argatroban.liver") return;
  gate.why.code = gate.state == GateState::ask ? "gate.argatroban.transaminase" : "gate.argatroban.transaminase-waiting";
  gate.why.arguments.insert(gate.why.arguments.end(), {{"value", high.value()}, {"drawn", high.when()}, {"limit", as_value(limit)}});
  if (gate.state != GateState::ask) return;
  gate.value_seen = high.value().written;
  made.severity = high.value().micro;
}

}  // namespace

std::optional<Draft> bivalirudin_gate(const SiteEvidence& evidence) {
  constexpr auto kName = GateName::bivalirudin;
  const auto doses = doses_of(evidence, only(Agent::bivalirudin));
  if (doses.empty()) return std::nullopt;
  const Protocol& p = evidence.protocol;
  if (auto trouble = dose_trouble(kName, p.bivalirudin_hold.rule, doses)) return trouble;
  if (auto closed = closed_by_act(evidence, kName, doses)) return closed;
  const ClearanceResult clearance = clearance_of(evidence);
  const std::initializer_list<Micro> edges{p.bivalirudin_clearance_moderate.micro, p.bivalirudin_clearance_severe.micro, p.bivalirudin_clearance_ask.micro};
  const auto row = clearance_row(clearance, edges);
  Draft made;
  if (!row || *row == 3) {
    made = draft(kName, GateState::ask, p.bivalirudin_clearance_ask.rule, unclear_clearance(clearance), {{"stopped", last_dose(doses)->latest}}, sources_of(doses));
  } else {
    const Setting& hold = *row == 0 ? p.bivalirudin_hold : *row == 1 ? p.bivalirudin_hold_moderate : p.bivalirudin_hold_severe;
    made = clock_gate(evidence, kName, doses, [&](const DoseEnd&) -> const Setting& { return hold; });
    say_clearance(made.gate, clearance, edges);
  }
  add_sources(made.gate.inputs, clearance_sources(clearance));
  if (made.gate.state != GateState::open) ask_for(made.gate, clearance.missing);
  else made.gate.expires_at = clearance_until(evidence);
  return made;
}

std::optional<Draft> argatroban_gate(const SiteEvidence& evidence) {
  constexpr auto kName = GateName::argatroban;
  const auto doses = doses_of(evidence, only(Agent::argatroban));
  if (doses.empty()) return std::nullopt;
  const Protocol& p = evidence.protocol;
  const Liver liver = liver_of(evidence);
  const Setting& hold = liver.impaired() ? p.argatroban_hold_liver : p.argatroban_hold;
  Draft made = clock_gate(evidence, kName, doses, [&](const DoseEnd&) -> const Setting& { return hold; });
  if (!liver.impaired()) return made;
  if (made.gate.opens_at) {  // the clock ends in a question, it opens nothing
    made.gate.clock_ends = std::exchange(made.gate.opens_at, std::nullopt);
    made.gate.why.code = "gate.argatroban.liver-waiting";
  } else if (made.gate.state == GateState::open) {
    made.gate.state = GateState::ask;
    made.gate.why = {"gate.argatroban.liver", {{"stopped", last_dose(doses)->latest}}};
  }
  if (liver.disease) add_source(made.gate.inputs, liver.disease->source);
  else say_transaminase(made, *liver.high, p.argatroban_transaminase);
  if (!liver.tested) ask_for(made.gate, Fact::liver_tests);
  return made;
}

}  // namespace clinical
