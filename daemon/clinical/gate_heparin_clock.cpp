// heparin-clock: only where a dated statement says that ACT and aPTT cannot be had.
#include "clinical/clotting_test.h"
#include "clinical/gate_rules.h"
#include "clinical/quantity.h"

namespace clinical {

std::optional<Draft> heparin_clock_gate(const SiteEvidence& evidence) {
  if (!heparin_clock_applies(evidence)) return std::nullopt;
  const Setting& hold = evidence.protocol.heparin_clock_hold;
  const auto doses = heparin_doses(evidence);
  for (const Analyte analyte : {Analyte::act, Analyte::aptt})
    if (const auto* over = any_over_since(evidence, analyte, last_dose(doses)))
      return draft(GateName::heparin_clock, GateState::closed, limit_of(evidence.protocol, analyte).rule, "gate.heparin-clock.overridden",
                   {{"test", term(analyte == Analyte::act ? GateName::act : GateName::aptt)}, {"value", *over->value}, {"drawn", when(*over->at)}},
                   {over->source});
  Draft made = clock_gate(evidence, GateName::heparin_clock, doses, [&](const DoseEnd&) -> const Setting& { return hold; });
  add_source(made.gate.inputs, test_unavailable(evidence)->source);
  return made;
}

}  // namespace clinical
