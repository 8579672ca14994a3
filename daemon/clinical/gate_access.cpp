// access: what is in the groin is known, without contradiction.
#include <algorithm>

#include "clinical/gate_rules.h"

namespace clinical {
namespace {

struct Unsettled {
  Fact fact;
  Certainty certainty;
};

/// A size read from free text is not enough; for the others it is.
std::vector<Unsettled> unsettled(const SiteFacts& site) {
  std::vector<Unsettled> found;
  const auto look = [&](Fact fact, Certainty certainty, bool text_will_do) {
    if (certainty != Certainty::known && !(certainty == Certainty::low && text_will_do)) found.push_back({fact, certainty});
  };
  look(Fact::sheath_size, site.french.certainty, false);
  look(Fact::side, site.side.certainty, true);
  look(Fact::vessel, site.vessel.certainty, true);
  look(Fact::closure, site.closure.certainty, true);
  return found;
}

const char* code_for(Certainty certainty) {
  switch (certainty) {
    case Certainty::contradicted: return "gate.access.contradicted";
    case Certainty::low: return "gate.access.text-only";
    default: return "gate.access.missing";
  }
}

template <class T>
void add_said(std::vector<Source>& inputs, const Settled<T>& settled) {
  for (const auto& said : settled.said) add_source(inputs, said.source);
}

/// What happened at one of the sites and nobody knows at which may have happened here: a sheath may be larger, or out. That is settled by a record, not by time.
const Conflict* event_without_site(const SiteEvidence& evidence) {
  const auto& conflicts = evidence.facts.conflicts;
  const auto found = std::ranges::find_if(conflicts, [](const Conflict& c) { return c.about == "event-without-site"; });
  return found == conflicts.end() ? nullptr : &*found;
}

}  // namespace

std::optional<Draft> access_gate(const SiteEvidence& evidence) {
  const SiteFacts& site = evidence.site;
  const Rule& rule = rule_without_setting(GateName::access);
  std::vector<Source> inputs;
  add_said(inputs, site.side);
  add_said(inputs, site.vessel);
  add_said(inputs, site.french);
  add_said(inputs, site.closure);
  if (const auto open_questions = unsettled(site); !open_questions.empty()) {
    const auto& first = open_questions.front();
    Draft made = draft(GateName::access, GateState::needs, rule, code_for(first.certainty), {{"fact", term(first.fact)}}, inputs);
    for (const auto& question : open_questions) ask_for(made.gate, question.fact);
    return made;
  }
  if (const auto* unplaced = event_without_site(evidence)) {
    add_sources(inputs, unplaced->inputs);
    Draft made = draft(GateName::access, GateState::needs, rule, "gate.access.contradicted", {{"fact", std::string("@conflict.event-without-site")}}, inputs);
    ask_for(made.gate, Fact::side);
    return made;
  }
  if (const Risk* graft = evidence.risk(RiskKind::graft, site.side.value)) {
    add_source(inputs, graft->source);
    return draft(GateName::access, GateState::ask, rule, graft->side == Side::unknown ? "gate.access.graft-somewhere" : "gate.access.graft", {}, inputs);
  }
  return draft(GateName::access, GateState::open, rule, "gate.access.open", {}, inputs);
}

}  // namespace clinical
