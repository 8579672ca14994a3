// Did this puncture bleed under an anticoagulant? Sizes hold and rest; opens nothing.
#include "clinical/clearance.h"
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/history.h"

namespace clinical {
namespace {

/// A gate of a longer-acting drug that was not open at that instant: its hold had not run out, or that is not known.
bool hold_ran(const SiteEvidence& evidence) {
  for (const auto rule : {low_molecular_weight_heparin_gate, fondaparinux_gate, direct_oral_anticoagulant_gate})
    if (const auto draft = rule(evidence); draft && draft->gate.state != GateState::open) return true;
  return false;
}

/// A blood thinner taken at home in the hours before, or nobody knows when.
bool taken_lately(const Evidence& evidence) {
  const Instant from = evidence.facts.start - evidence.protocol.procedural_look_back.span();
  for (const auto& dose : doses_of(evidence, is_anticoagulant, Home::with))
    if (dose.home && (dose.kind != DoseEnd::Kind::ended || dose.end.latest >= from)) return true;
  return false;
}

/// Of a gate that applies to every site.
bool told(const std::optional<Draft>& gate) { return gate->gate.state == GateState::open; }

}  // namespace

Tristate procedural_anticoagulant(const CaseFacts& facts, const SiteFacts& site, const Protocol& protocol, const Clock& clock) {
  return procedural_anticoagulant(SiteEvidence(facts, site, protocol, clock));
}

Tristate procedural_anticoagulant(const SiteEvidence& now) {
  if (!procedural_doses(now).empty() || taken_lately(now)) return Tristate::yes;
  if (const auto& out = now.site.sheath_out; out && *out <= now.clock.now()) {
    const Clock at_pull(*out);
    if (hold_ran(SiteEvidence(now, at_pull))) return Tristate::yes;
  } else if (hold_ran(now)) {
    return Tristate::yes;
  }
  return told(anticoagulant_history_gate(now)) && told(home_anticoagulants_gate(now)) ? Tristate::no : Tristate::unknown;
}

}  // namespace clinical
