#include "clinical/statement_conflicts.h"

#include <algorithm>

#include "clinical/doses.h"
#include "clinical/gates.h"
#include "clinical/history.h"
#include "clinical/names.h"

namespace clinical {
namespace {

// What is stated stands first in `values`, then each drug once.
void say(Conflict& conflict, std::string_view name, const Source& source) {
  if (std::find(conflict.values.begin(), conflict.values.end(), name) == conflict.values.end()) conflict.values.emplace_back(name);
  add_source(conflict.inputs, source);
}

std::optional<Conflict> beside_dose(const Evidence& of_case) {
  Conflict conflict{Fact::anticoagulant_history, "statement-beside-dose", {}, {}, {}};
  for (const auto& site : of_case.facts.sites) {
    const SiteEvidence evidence(of_case, site);
    const auto doses = procedural_doses(evidence);
    if (doses.empty()) continue;
    for (const auto* statement : evidence.statements(StatementKind::no_anticoagulant_given, of_case.facts.start)) say(conflict, "none given", statement->source);
    if (conflict.inputs.empty()) return std::nullopt;
    for (const auto& dose : doses) say(conflict, name_of(dose.given->agent), dose.given->source);
  }
  return conflict.inputs.empty() ? std::nullopt : std::optional(std::move(conflict));
}

std::optional<Conflict> beside_home_drug(const Evidence& evidence) {
  Conflict conflict{Fact::home_anticoagulants, "statement-beside-home-drug", {}, {}, {}};
  for (const auto* statement : evidence.statements(StatementKind::no_home_anticoagulant)) say(conflict, "none", statement->source);
  for (const auto& list : evidence.facts.home_lists)
    if (list.nil_known && evidence.counts(list.at)) say(conflict, "none", list.source);
  if (conflict.inputs.empty()) return std::nullopt;
  bool taken = false;
  for (const auto& drug : evidence.facts.home_drugs)
    if (is_anticoagulant(drug.agent) && tells_home(evidence, drug)) {
      say(conflict, name_of(drug.agent), drug.source);
      taken = true;
    }
  return taken ? std::optional(std::move(conflict)) : std::nullopt;
}

}  // namespace

std::vector<Conflict> statement_conflicts(const Evidence& evidence) {
  std::vector<Conflict> found;
  if (auto conflict = beside_dose(evidence)) found.push_back(std::move(*conflict));
  if (auto conflict = beside_home_drug(evidence)) found.push_back(std::move(*conflict));
  return found;
}

}  // namespace clinical
