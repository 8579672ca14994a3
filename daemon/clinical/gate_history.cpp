// anticoagulant-history: was an anticoagulant given for the procedure, or does somebody say that none was?
#include <algorithm>

#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/history.h"
#include "clinical/names.h"
#include "clinical/tally.h"

namespace clinical {
namespace {

const Rule& rule() { return rule_without_setting(GateName::anticoagulant_history); }

Draft needs(const char* code, Arguments arguments, std::vector<Source> inputs, Fact fact) {
  Draft made = draft(GateName::anticoagulant_history, GateState::needs, rule(), code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, fact);
  return made;
}

bool is_unidentified(Agent a) { return a == Agent::unidentified; }
bool has_no_rule(Agent a) { return a == Agent::other_antithrombotic; }

/// `told`: the history itself is known. Where it is not, that is asked for as well.
std::optional<Draft> drug_without_rule(const Evidence& evidence, bool told) {
  const auto ask = [told](const std::string& drug, const Source& source, bool home) {
    const char* code = home ? (told ? "gate.anticoagulant-history.no-rule-home" : "gate.anticoagulant-history.no-rule-home-untold")
                            : (told ? "gate.anticoagulant-history.no-rule" : "gate.anticoagulant-history.no-rule-untold");
    Draft made = draft(GateName::anticoagulant_history, GateState::ask, rule(), code, {{"drug", drug}}, {source});
    if (!told) ask_for(made.gate, Fact::anticoagulant_history);
    return made;
  };
  for (const auto& a : evidence.facts.administrations)
    if (has_no_rule(a.agent) && dose_end(evidence, a)) return ask(a.name, a.source, false);
  for (const auto& h : evidence.facts.home_drugs)
    if (has_no_rule(h.agent) && tells_home(evidence, h)) return ask(h.name, h.source, true);
  return std::nullopt;
}

/// What is given against an anticoagulant, from the look-back before the start on.
const Administration* reversal(const SiteEvidence& evidence) {
  const Instant from = evidence.facts.start - evidence.protocol.procedural_look_back.span();
  for (const auto& a : evidence.facts.administrations) {
    const bool against = a.agent == Agent::protamine || a.agent == Agent::idarucizumab || a.agent == Agent::andexanet_alfa;
    const auto at = a.start ? a.start : a.end;
    if (against && dose_end(evidence, a) && (!at || (at->latest >= from && !(evidence.site.sheath_out && at->earliest > *evidence.site.sheath_out)))) return &a;
  }
  return nullptr;
}

/// The newest value from the start to the sheath's removal; the higher of two of one time.
const Measurement* newest_with_sheath_in(const SiteEvidence& evidence, Analyte analyte) {
  const Measurement* last = nullptr;
  for (const auto* m : evidence.measurements(analyte)) {
    if (m->at->latest < evidence.facts.start || (evidence.site.sheath_out && m->at->earliest > *evidence.site.sheath_out)) continue;
    const bool higher = last && m->at->latest == last->at->latest && m->value && (!last->value || m->value->micro > last->value->micro);
    if (!last || m->at->latest > last->at->latest || higher) last = m;
  }
  return last;
}

/// An ACT or aPTT that is not under its limit: somebody who was given nothing has none.
std::optional<Draft> against_values(const SiteEvidence& evidence, const Statement& stated) {
  const auto& p = evidence.protocol;
  for (const auto& [analyte, limit] : {std::pair(Analyte::act, &p.act_limit), std::pair(Analyte::aptt, &p.aptt_limit)}) {
    const auto* last = newest_with_sheath_in(evidence, analyte);
    if (!last || !last->value || !last->value->surely_at_least(limit->micro)) continue;
    return needs("gate.anticoagulant-history.none-against-value",
                 {{"stated", stated.at->earliest}, {"what", term("analyte", name_of(analyte))}, {"value", *last->value}, {"at", when(*last->at)}}, {stated.source, last->source}, Fact::anticoagulant_history);
  }
  return std::nullopt;
}

}  // namespace

std::vector<ProceduralDose> procedural_doses(const SiteEvidence& evidence) {
  const Instant from = evidence.facts.start - evidence.protocol.procedural_look_back.span();
  // Of a start that is known to the day a dose surely belongs to the procedure only where it does at the latest one.
  const auto& index = evidence.facts.index;
  const auto& begun = index.start ? index.start : index.end;
  const Instant surely_from = std::max(evidence.facts.start, begun ? begun->latest : evidence.facts.start) - evidence.protocol.procedural_look_back.span();
  const auto until = evidence.site.sheath_out;
  std::vector<ProceduralDose> found;
  for (const auto& a : evidence.facts.administrations) {
    if (!is_anticoagulant(a.agent)) continue;
    const auto dose = dose_end(evidence, a);
    if (!dose) continue;
    const auto begin = a.start ? a.start : a.end;
    const bool ended = dose->kind == DoseEnd::Kind::ended;
    if (ended && dose->end.latest < from) continue;
    if (begin && until && begin->earliest > *until) continue;
    const bool reaches_in = ended ? dose->end.earliest >= surely_from : dose->kind == DoseEnd::Kind::running || (begin && begin->earliest >= surely_from);
    const bool surely_in_time = reaches_in && begin && (!until || begin->latest <= *until);
    const bool for_procedures = !is_direct_oral(a.agent) && a.agent != Agent::warfarin;
    found.push_back({&a, surely_in_time && for_procedures && a.status != AdministrationStatus::unknown, for_procedures});
  }
  return found;
}

std::optional<Draft> anticoagulant_history_gate(const SiteEvidence& evidence) {
  for (const auto& a : evidence.facts.administrations)
    if (is_unidentified(a.agent) && dose_end(evidence, a))
      return needs("gate.anticoagulant-history.unidentified", {{"drug", a.name}}, {a.source}, Fact::drug_identity);
  const auto doses = procedural_doses(evidence);
  const auto statements = evidence.statements(StatementKind::no_anticoagulant_given, evidence.facts.start);
  if (!doses.empty() && !statements.empty())
    return needs("gate.anticoagulant-history.contradicted", {{"agent", term(doses.front().given->agent)}, {"stated", statements.front()->at->earliest}},
                 {doses.front().given->source, statements.front()->source}, Fact::anticoagulant_history);
  if (const auto* against = statements.empty() ? nullptr : reversal(evidence))
    return needs("gate.anticoagulant-history.contradicted", {{"agent", term(against->agent)}, {"stated", statements.front()->at->earliest}}, {against->source, statements.front()->source}, Fact::anticoagulant_history);
  if (!statements.empty())
    if (auto against = against_values(evidence, *statements.front())) return against;
  const auto telling = std::find_if(doses.begin(), doses.end(), [](const ProceduralDose& d) { return d.tells; });
  if (auto ask = drug_without_rule(evidence, telling != doses.end() || !statements.empty())) return ask;
  if (telling != doses.end())
    return draft(GateName::anticoagulant_history, GateState::open, rule(), "gate.anticoagulant-history.given", {{"agent", term(telling->given->agent)}},
                 {telling->given->source});
  if (!statements.empty())
    return draft(GateName::anticoagulant_history, GateState::open, rule(), "gate.anticoagulant-history.none-given",
                 {{"stated", statements.front()->at->earliest}}, {statements.front()->source});
  const auto unsure = std::find_if(doses.begin(), doses.end(), [](const ProceduralDose& d) { return d.for_procedures; });
  if (unsure != doses.end())
    return needs("gate.anticoagulant-history.dose-time", {{"agent", term(unsure->given->agent)}}, {unsure->given->source}, Fact::dose_time);
  return needs("gate.anticoagulant-history.unknown", {}, {}, Fact::anticoagulant_history);
}

}  // namespace clinical
