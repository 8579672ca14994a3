// gp-inhibitor: it may run on; what counts is the time since the last heparin, and the platelets.
#include "clinical/clotting_test.h"
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::gp_inhibitor;

Draft heparin_off(const SiteEvidence& evidence, const DoseEnd& given) {
  const Setting& hold = evidence.protocol.gp_heparin_off;
  const auto heparin = heparin_doses(evidence);
  if (!heparin.empty()) return clock_gate(evidence, kName, heparin, [&](const DoseEnd&) -> const Setting& { return hold; });
  const auto history = anticoagulant_history_gate(evidence);  // it applies to every site
  if (history->gate.state == GateState::open) return draft(kName, GateState::open, hold.rule, "gate.gp-inhibitor.no-heparin", {}, {given.source});
  Draft made = draft(kName, GateState::needs, hold.rule, "gate.gp-inhibitor.heparin-unknown", {{"agent", term(given.agent)}}, {given.source});
  ask_for(made.gate, Fact::anticoagulant_history);
  return made;
}

/// A count under which the drug should stop, whatever its age: under the platelets limit the gate `platelets` closes beside it.
std::optional<Draft> low_platelets(const SiteEvidence& evidence, const DoseEnd& given) {
  const Setting& below = evidence.protocol.gp_platelets_ask_below;
  const auto count = newest(evidence, Analyte::platelets, Worse::lower);
  if (!count || !count->has_value() || count->all([&](const Value& v) { return v.surely_at_least(below.micro); })) return std::nullopt;
  std::vector<Source> inputs = count->sources();
  add_source(inputs, given.source);
  Draft made = draft(kName, GateState::ask, below.rule, "gate.gp-inhibitor.platelets",
                     {{"agent", term(given.agent)}, {"value", count->value()}, {"drawn", count->when()}, {"limit", as_value(below)}}, std::move(inputs));
  made.gate.value_seen = count->value().written;
  made.severity = -count->value().micro;
  return made;
}

}  // namespace

std::optional<Draft> gp_inhibitor_gate(const SiteEvidence& evidence) {
  const auto doses = doses_of(evidence, is_gp_inhibitor);
  if (doses.empty()) return std::nullopt;
  Draft made = heparin_off(evidence, doses.front());
  if (made.gate.state != GateState::open) return made;
  if (auto ask = low_platelets(evidence, doses.front())) return ask;
  return made;
}

}  // namespace clinical
