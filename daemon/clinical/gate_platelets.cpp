// platelets: the count, drawn late enough after a GP IIb/IIIa inhibitor.
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::platelets;

/// Since when a count says something of a GP IIb/IIIa inhibitor given: a while after its (last) start.
struct AfterInhibitor {
  bool given = false, start_known = true;
  Instant counts_from{};
};
AfterInhibitor after_inhibitor(const SiteEvidence& evidence) {
  AfterInhibitor after;
  for (const auto& a : evidence.facts.administrations) {
    if (!is_gp_inhibitor(a.agent) || !dose_end(evidence, a)) continue;
    after.given = true;
    const auto& begin = a.start ? a.start : a.end;
    if (!begin) after.start_known = false;
    else after.counts_from = std::max(after.counts_from, begin->latest + evidence.protocol.platelets_after_gp_start.span());
  }
  return after;
}

Draft needs(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs, Fact fact = Fact::platelets) {
  Draft made = draft(kName, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, fact);
  return made;
}

}  // namespace

std::optional<Draft> platelets_gate(const SiteEvidence& evidence) {
  const Protocol& p = evidence.protocol;
  const Setting& limit = p.platelets_limit;
  const AfterInhibitor after = after_inhibitor(evidence);
  const Setting& freshness = after.given ? p.fresh_platelets_gp : p.fresh_platelets;
  const auto last = newest(evidence, Analyte::platelets, Worse::lower);
  const auto inputs = last ? last->sources() : std::vector<Source>{};
  // A count that is drawn before then will not do, whether there is one yet or not.
  const bool too_soon = after.given && after.start_known && !evidence.clock.reached(after.counts_from);
  const auto drawn_too_soon = [&] {
    Draft made = needs("gate.platelets.after-inhibitor", {{"from", after.counts_from}}, p.platelets_after_gp_start.rule, inputs);
    if (too_soon) made.gate.clock_ends = after.counts_from;
    return made;
  };
  if (too_soon && !(last && last->has_value())) return drawn_too_soon();
  if (!last) return needs("gate.platelets.none", {}, limit.rule, {});
  if (!last->has_value()) return needs("gate.platelets.no-value", {{"drawn", last->when()}}, limit.rule, inputs);
  const Arguments seen{{"value", last->value()}, {"drawn", last->when()}, {"limit", as_value(limit)}};
  const bool fresh = evidence.fresh(last->drawn, freshness);
  const auto by_value = [&](GateState state, const char* code) {
    Draft made = draft(kName, state, limit.rule, code, seen, inputs);
    made.gate.value_seen = last->value().written;
    made.gate.expires_at = last->drawn + freshness.span();
    return made;
  };
  const bool below = last->any([&](const Value& v) { return v.surely_below(limit.micro); });
  if (below && fresh) return by_value(GateState::closed, "gate.platelets.below-limit");
  if (!after.start_known) return needs("gate.platelets.inhibitor-start", {}, p.platelets_after_gp_start.rule, inputs, Fact::dose_time);
  if (after.given && last->drawn < after.counts_from) return drawn_too_soon();
  if (!fresh) return needs("gate.platelets.stale", seen, freshness.rule, inputs);
  if (!last->all([&](const Value& v) { return v.surely_at_least(limit.micro); })) return needs("gate.platelets.unsure", seen, limit.rule, inputs);
  return by_value(GateState::open, "gate.platelets.open");
}

}  // namespace clinical
