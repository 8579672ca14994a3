// aptt: exists only where an aPTT was drawn after the last dose of a drug that it measures.
#include "clinical/clotting_test.h"
#include "clinical/gate_rules.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

Draft made(GateState state, const char* code, const Evidence& evidence, const Measurement& shown, std::vector<Source> inputs) {
  const Setting& limit = evidence.protocol.aptt_limit;
  Arguments arguments{{"drawn", when(*shown.at)}, {"limit", as_value(limit)}};
  if (shown.value) arguments.insert(arguments.begin(), {"value", *shown.value});
  Draft gate = draft(GateName::aptt, state, limit.rule, code, std::move(arguments), std::move(inputs));
  if (shown.value) gate.gate.value_seen = shown.value->written;
  return gate;
}

}  // namespace

std::optional<Draft> aptt_gate(const SiteEvidence& evidence) {
  const auto doses = clotting_doses(evidence);
  if (doses.empty()) return std::nullopt;
  if (heparin_clock_applies(evidence) && !thrombin_inhibitor_demands_test(evidence)) {
    const auto* over = any_over_since(evidence, Analyte::aptt, last_dose(doses));
    if (!over) return std::nullopt;
    Draft gate = made(GateState::closed, "gate.aptt.over-limit", evidence, *over, {over->source});
    ask_for(gate.gate, Fact::aptt);
    return gate;
  }
  const auto dose = last_dose(doses);
  if (!dose) return std::nullopt;
  const ClottingTest test = clotting_test(evidence, Analyte::aptt, *dose);
  if (test.state == TestState::none) return std::nullopt;
  std::vector<Source> inputs = sources_of(doses);
  add_sources(inputs, test.last->sources());
  const auto gate = [&](GateState state, const char* code) { return made(state, code, evidence, *test.last->shown, inputs); };
  if (test.state == TestState::over) {
    Draft closed = gate(GateState::closed, "gate.aptt.over-limit");
    if (test.fresh) closed.gate.expires_at = test.fresh_until;
    else ask_for(closed.gate, Fact::aptt);
    return closed;
  }
  if (test.state == TestState::under) {
    Draft open = gate(GateState::open, "gate.aptt.open");
    open.gate.expires_at = test.fresh_until;
    return open;
  }
  const bool unsure = test.state == TestState::unsure;
  if (!unsure && clotting_test(evidence, Analyte::act, *dose).state == TestState::under) return std::nullopt;
  Draft needs = gate(GateState::needs, unsure ? "gate.aptt.unsure" : test.last->has_value() ? "gate.aptt.draw" : "gate.aptt.no-value");
  ask_for(needs.gate, Fact::aptt);
  return needs;
}

}  // namespace clinical
