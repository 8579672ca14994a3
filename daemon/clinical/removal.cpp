// When the sheath may come out, from its gates.
#include <algorithm>

#include "clinical/draft.h"
#include "clinical/gate_list.h"
#include "clinical/gates.h"

namespace clinical {
namespace {

bool is_open(const Gate& gate) { return gate.state == GateState::open; }

Basis basis_of(const Gate& gate) { return {gate.rule, gate.source, gate.inputs, gate.why}; }

Removal due(const std::vector<Gate>& gates) {
  Removal removal;
  removal.status = StepStatus::due;
  for (const auto& gate : gates)
    removal.earliest = std::max(removal.earliest, gate.since);
  for (const auto& gate : gates)
    if (gate.since == removal.earliest) removal.basis.push_back(basis_of(gate));
  removal.why = {"removal.due", {}};
  return removal;
}

/// Every gate not open is closed with an end that a clock alone brings: the latest of these ends.
std::optional<Instant> clocks_alone(const std::vector<Gate>& gates) {
  std::optional<Instant> last;
  for (const auto& gate : gates) {
    if (is_open(gate)) continue;
    if (!gate.opens_at) return std::nullopt;
    last = std::max(last, gate.opens_at);
  }
  return last;
}

/// The latest of the clocks still running and of the ACT's 50 % crossing where the ACT is waited for; the past is no expectation.
std::optional<Instant> last_expected(const std::vector<Gate>& gates, const std::optional<Projection>& projection, const Clock& clock) {
  std::optional<Instant> last;
  const auto consider = [&](std::optional<Instant> at) {
    if (at && !clock.reached(*at) && (!last || *at > *last)) last = at;
  };
  for (const auto& gate : gates) {
    if (is_open(gate)) continue;
    consider(gate.opens_at);
    consider(gate.clock_ends);
    if (gate.name == GateName::act && projection && projection->computed) consider(projection->p50);
  }
  return last;
}

Reason blocked_by(const std::vector<Gate>& gates, const std::optional<Instant>& expected) {
  const auto first = std::find_if(gates.begin(), gates.end(), [](const Gate& g) { return !is_open(g); });
  const auto others = std::count_if(gates.begin(), gates.end(), [](const Gate& g) { return !is_open(g); }) - 1;
  Reason why{expected ? "removal.blocked-until" : "removal.blocked", {{"gate", term(first->name)}}};
  if (expected) why.arguments.emplace_back("expected", *expected);
  if (others > 0) {
    why.code += "-more";
    why.arguments.emplace_back("n", std::int64_t{others});
  }
  return why;
}

}  // namespace

Removal removal_at(const SiteEvidence& evidence, const std::vector<Gate>& gates, const std::optional<Projection>& projection) {
  if (std::all_of(gates.begin(), gates.end(), is_open)) return due(gates);
  Removal removal;
  for (const auto& gate : gates)
    if (!is_open(gate)) removal.basis.push_back(basis_of(gate));
  if (const auto end = clocks_alone(gates)) {
    const Clock then(*end);
    const auto later = list_gates(SiteEvidence(evidence, then, evidence.clock.now()));
    removal.expected = end;
    if (std::all_of(later.begin(), later.end(), is_open)) {
      removal.status = StepStatus::expected;
      removal.earliest = end;
      removal.why = {"removal.clock", {{"at", *end}}};
    } else {
      // Where the projection wants a draw the act gate waits for a value, and no clock alone opens it.
      removal.why = {"removal.not-before-fresh", {{"at", *end}, {"draw", *end - evidence.protocol.draw_before.span()}}};
    }
    return removal;
  }
  removal.expected = last_expected(gates, projection, evidence.clock);
  removal.why = blocked_by(gates, removal.expected);
  return removal;
}

Removal removal_at(const CaseFacts& facts, const SiteFacts& site, const Protocol& protocol, const Clock& clock, const std::vector<Gate>& gates,
                   const std::optional<Projection>& projection) {
  return removal_at(SiteEvidence(facts, site, protocol, clock), gates, projection);
}

}  // namespace clinical
