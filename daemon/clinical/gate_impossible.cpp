// A gate that waits for a value because the newest is a number that it cannot be, or is recorded in a form that cannot be read: its sentence names what is recorded.
#include "clinical/gate_rules.h"
#include "clinical/newest.h"

namespace clinical {
namespace {

/// What the gate waits for a value of; empty: it rests on no single test.
std::vector<Analyte> tests_of(GateName name) {
  switch (name) {
    case GateName::act: return {Analyte::act};
    case GateName::aptt: return {Analyte::aptt};
    case GateName::warfarin_inr: return {Analyte::inr};
    case GateName::fibrinolytic: return {Analyte::fibrinogen};
    case GateName::platelets: return {Analyte::platelets};
    case GateName::blood_pressure: return {Analyte::systolic, Analyte::diastolic};
    case GateName::heart_rate: return {Analyte::heart_rate};
    case GateName::haemoglobin: return {Analyte::haemoglobin};
    default: return {};
  }
}

bool for_want_of_a_value(const Gate& gate) {
  return gate.state == GateState::needs && (gate.why.code.ends_with(".no-value") || gate.why.code == "gate.blood-pressure.incomplete" || gate.why.code == "gate.blood-pressure.none");
}

}  // namespace

void say_unusable(const SiteEvidence& evidence, Gate& gate) {
  if (!for_want_of_a_value(gate)) return;
  for (const Analyte analyte : tests_of(gate.name)) {
    const auto last = newest(evidence, analyte, Worse::higher);
    if (!last) continue;
    for (const auto* m : last->draws) {
      const bool impossible = !m->impossible.empty();
      if (!impossible && m->unread.empty()) continue;
      const auto& recorded = impossible ? m->impossible : m->unread;
      gate.why = {impossible ? "gate.impossible-value" : "gate.unread-value", {{"value", Value{0, Comparator::none, recorded}}, {"at", when(*m->at)}}};
      return;
    }
  }
}

}  // namespace clinical
