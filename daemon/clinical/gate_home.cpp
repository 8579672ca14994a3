// home-anticoagulants: does the record tell what was taken before?
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/orders.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::home_anticoagulants;

Draft made(GateState state, const char* code, Arguments arguments, std::vector<Source> inputs) {
  Draft gate = draft(kName, state, rule_without_setting(kName), code, std::move(arguments), std::move(inputs));
  if (state == GateState::needs) ask_for(gate.gate, Fact::home_anticoagulants);
  return gate;
}

const HomeDrug* first_home(const Evidence& evidence, bool (*group)(Agent)) {
  for (const auto& drug : evidence.facts.home_drugs)
    if (group(drug.agent) && tells_home(evidence, drug)) return &drug;
  return nullptr;
}

/// A list tells when it says that there is nothing, or when drugs stand on it.
const HomeList* telling_list(const Evidence& evidence, bool nil_known) {
  for (const auto& list : evidence.facts.home_lists)
    if (list.nil_known == nil_known && evidence.counts(list.at) && (nil_known || !evidence.facts.home_drugs.empty())) return &list;
  return nullptr;
}

/// A home anticoagulant of which only a request or dispense tells, without a last dose: it tells nothing, but a list does not settle it either.
const HomeDrug* only_prescribed(const Evidence& evidence) {
  for (const auto& drug : evidence.facts.home_drugs)
    if (is_anticoagulant(drug.agent) && drug.taken && drug.told_by_request && !drug.last_dose) return &drug;
  return nullptr;
}

/// An administration of a drug for longer use before the start, surely within the look-back: a start known only by its day widens nothing.
const Administration* given_before(const Evidence& evidence) {
  const auto& begun = evidence.facts.index.start;
  const Instant oldest = (begun ? begun->latest : evidence.facts.start) - evidence.protocol.look_back.span();
  for (const auto& a : evidence.facts.administrations) {
    const bool longer_use = is_direct_oral(a.agent) || is_low_molecular_weight_heparin(a.agent) || a.agent == Agent::warfarin || a.agent == Agent::fondaparinux;
    if (longer_use && a.start && a.start->latest < evidence.facts.start && a.start->earliest >= oldest && dose_end(evidence, a)) return &a;
  }
  return nullptr;
}

/// What is given against a tablet that thins the blood.
const Administration* reversed(const Evidence& evidence) {
  for (const auto& a : evidence.facts.administrations)
    if ((a.agent == Agent::idarucizumab || a.agent == Agent::andexanet_alfa) && dose_end(evidence, a)) return &a;
  return nullptr;
}

/// A form or report names an anticoagulant where the record says that none is taken: it is asked for, and opens or closes nothing.
Draft doubted(Draft gate, const Evidence& evidence) {
  for (const auto& remark : evidence.facts.remarks)
    if (is_anticoagulant(remark.agent)) ask_for(gate.gate, Fact::home_anticoagulants);
  return gate;
}

}  // namespace

std::optional<Draft> home_anticoagulants_gate(const SiteEvidence& evidence) {
  if (const auto* drug = first_home(evidence, [](Agent a) { return a == Agent::unidentified; })) {
    Draft gate = draft(kName, GateState::needs, rule_without_setting(kName), "gate.home-anticoagulants.unidentified", {{"drug", drug->name}}, {drug->source});
    ask_for(gate.gate, Fact::drug_identity);
    return gate;
  }
  const auto* drug = first_home(evidence, is_anticoagulant);
  const auto statements = evidence.statements(StatementKind::no_home_anticoagulant);
  const auto* hidden = withheld(evidence.facts, WithheldKind::drugs, evidence.clock);  // a list may then be shorter than what is taken
  const auto* nothing = hidden ? nullptr : telling_list(evidence, true);
  if (drug && !statements.empty())
    return made(GateState::needs, "gate.home-anticoagulants.contradicted", {{"agent", term(drug->agent)}}, {drug->source, statements.front()->source});
  if (drug && nothing)
    return made(GateState::needs, "gate.home-anticoagulants.contradicted", {{"agent", term(drug->agent)}}, {drug->source, nothing->source});
  if (const auto* against = !drug && (!statements.empty() || nothing) ? reversed(evidence) : nullptr)
    return made(GateState::needs, "gate.home-anticoagulants.reversed", {{"agent", term(against->agent)}}, {against->source, statements.empty() ? nothing->source : statements.front()->source});
  if (drug) return made(GateState::open, "gate.home-anticoagulants.taken", {{"agent", term(drug->agent)}}, {drug->source});
  if (!statements.empty()) return doubted(made(GateState::open, "gate.home-anticoagulants.none", {}, {statements.front()->source}), evidence);
  if (nothing) return doubted(made(GateState::open, "gate.home-anticoagulants.none", {}, {nothing->source}), evidence);
  if (hidden) return made(GateState::needs, "gate.home-anticoagulants.withheld", {}, {hidden->source});
  if (const auto* prescribed = only_prescribed(evidence))
    return made(GateState::needs, "gate.home-anticoagulants.prescribed", {{"agent", term(prescribed->agent)}}, {prescribed->source});
  if (const auto* other = first_home(evidence, [](Agent a) { return a == Agent::other_antithrombotic; }))
    return made(GateState::ask, "gate.home-anticoagulants.no-rule", {{"drug", other->name}}, {other->source});
  if (const auto* list = telling_list(evidence, false)) return made(GateState::open, "gate.home-anticoagulants.list", {}, {list->source});
  if (const auto* a = given_before(evidence)) return made(GateState::open, "gate.home-anticoagulants.given-before", {{"agent", term(a->agent)}}, {a->source});
  return made(GateState::needs, "gate.home-anticoagulants.unknown", {}, {});
}

}  // namespace clinical
