// The agents given, with what is left of them: information beside the gates.
#include <algorithm>
#include <cmath>

#include "clinical/clearance.h"
#include "clinical/draft.h"
#include "clinical/fraction.h"
#include "clinical/gates.h"
#include "clinical/half_life.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

/// What was given of one agent, as far as amounts and times are known.
struct Given {
  std::vector<Input> inputs;        ///< timed exactly and ended; an unknown amount counts as 1
  bool amounts_known = true;        ///< all of them, in one unit
  std::optional<DoseUnit> unit;
  double total = 0;
};

std::optional<double> amount_of(const Evidence& evidence, const Administration& a, Instant start, Instant end) {
  const auto per_kg = [&](bool scaled) -> std::optional<double> {
    if (!scaled) return 1;
    const auto weight = weight_of(evidence);
    return weight;
  };
  if (a.dose && a.dose->amount.exact() && a.dose->unit != DoseUnit::other)
    if (const auto scale = per_kg(a.dose->per_kg)) return static_cast<double>(a.dose->amount.micro) / kMicro * *scale;
  if (!a.dose && a.rate && a.rate->amount.exact() && a.rate->unit != DoseUnit::other)
    if (const auto scale = per_kg(a.rate->per_kg))
      return static_cast<double>(a.rate->amount.micro) / kMicro * *scale * static_cast<double>((end - start).count()) / 3600;
  return std::nullopt;
}

Given given_of(const Evidence& evidence, Agent agent) {
  Given given;
  for (const auto& a : evidence.facts.administrations) {
    if (a.agent != agent) continue;
    const auto dose = dose_end(evidence, a);
    if (!dose) continue;
    const auto begin = a.start ? a.start : a.end;
    if (dose->kind != DoseEnd::Kind::ended || !dose->end.exact() || !begin->exact()) {
      given.amounts_known = false;
      continue;
    }
    const auto amount = amount_of(evidence, a, begin->earliest, dose->end.earliest);
    const bool usable = amount && *amount > 0;  // "0 units", or a rate over no time, tells nothing
    const DoseUnit unit = a.dose ? a.dose->unit : a.rate ? a.rate->unit : DoseUnit::other;
    if (!usable || (given.unit && *given.unit != unit)) given.amounts_known = false;
    given.unit = unit;
    given.total += usable ? *amount : 0;
    given.inputs.push_back({begin->earliest, dose->end.earliest, usable ? *amount : 1});
  }
  if (given.inputs.empty()) given.amounts_known = false;
  return given;
}

Micro tenths(double value) { return static_cast<Micro>(std::llround(value * 10)) * (kMicro / 10); }

void add_totals(const Evidence& evidence, const Given& given, AgentRow& row) {
  if (!given.amounts_known || !given.unit || *given.unit == DoseUnit::other) return;
  const bool units = *given.unit == DoseUnit::international_unit;
  row.total = computed(tenths(given.total), units ? "U" : "mg");
  if (const auto weight = weight_of(evidence)) row.total_per_kg = computed(tenths(given.total / *weight), units ? "U/kg" : "mg/kg");
}

bool mentioned(const CaseFacts& facts, Agent agent) {
  const auto names = [agent](const auto& fact) { return fact.agent == agent; };
  return std::ranges::any_of(facts.administrations, names) || std::ranges::any_of(facts.home_drugs, names);
}

std::optional<AgentRow> row_of(const Evidence& evidence, Agent agent) {
  const auto doses = doses_of(evidence, only(agent), Home::with);
  if (doses.empty()) return std::nullopt;
  AgentRow row;
  row.agent = agent;
  row.running = first_of(doses, DoseEnd::Kind::running) != nullptr;
  const auto last = last_dose(doses);
  if (last && last->exact()) row.last_given = last->earliest;
  const Given given = given_of(evidence, agent);
  add_totals(evidence, given, row);
  const auto half_life = half_life_of(evidence, agent, given.amounts_known ? given.inputs : std::vector<Input>{});
  if (half_life) {
    row.half_life = std::chrono::round<minutes>(half_life->length);
    Basis basis = half_life->basis;
    add_sources(basis.inputs, sources_of(doses));
    row.basis.push_back(std::move(basis));
  } else {
    row.basis.push_back({"", "", sources_of(doses), {"agent.no-half-life", {{"agent", term(agent)}}}});
  }
  if (half_life && row.last_given) {
    std::vector<Input> inputs = given.inputs;
    if (inputs.empty() || inputs.size() != doses.size()) inputs = {{*row.last_given, *row.last_given, 1}};
    const double at_stop = amount_at(inputs, half_life->length, *row.last_given);
    if (at_stop > 0) row.fraction_left = amount_at(inputs, half_life->length, evidence.clock.now()) / at_stop;
  }
  return row;
}

}  // namespace

std::vector<AgentRow> agents_at(const CaseFacts& facts, const Protocol& protocol, const Clock& clock) {
  return agents_at(Evidence(facts, protocol, clock));
}

std::vector<AgentRow> agents_at(const Evidence& evidence) {
  std::vector<AgentRow> rows;
  for (int i = 0; i <= static_cast<int>(Agent::other_antithrombotic); ++i)  // after it come those that are none
    if (auto row = mentioned(evidence.facts, static_cast<Agent>(i)) ? row_of(evidence, static_cast<Agent>(i)) : std::nullopt) rows.push_back(std::move(*row));
  return rows;
}

}  // namespace clinical
