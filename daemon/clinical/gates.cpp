#include "clinical/gates.h"

#include <algorithm>

#include "clinical/decision.h"
#include "clinical/gate_rules.h"
#include "clinical/gate_list.h"

namespace clinical {
namespace {

/// In GateName order.
const GateRule kRules[] = {access_gate,        site_status_found_gate, anticoagulant_history_gate, home_anticoagulants_gate,
                           act_gate,           aptt_gate,            heparin_clock_gate,         gp_inhibitor_gate,
                           low_molecular_weight_heparin_gate,        fondaparinux_gate,          bivalirudin_gate,
                           argatroban_gate,    direct_oral_anticoagulant_gate,                   warfarin_inr_gate,
                           fibrinolytic_gate,  platelets_gate,       blood_pressure_gate,        heart_rate_gate,
                           haemoglobin_gate};

GateRule rule_of(GateName name) { return kRules[static_cast<std::size_t>(name)]; }

/// Facts stamped a little ahead of now: a bedside clock runs fast. Within the tolerance they are no conflict, and a bad one counts at once.
bool something_ahead(const SiteEvidence& evidence) {
  const Instant now = evidence.clock.now(), last = now + evidence.protocol.future_tolerance.span();
  const auto ahead = [&](const std::optional<Moment>& at) {
    if (!at || at->earliest <= now) return false;
    evidence.clock.note(at->earliest - evidence.protocol.future_tolerance.span());
    return at->earliest <= last;
  };
  bool any = false;
  for (const auto& m : evidence.facts.measurements) any |= ahead(m.at);
  for (const auto& a : evidence.facts.administrations) any |= ahead(a.start ? a.start : a.end);
  for (const auto& c : evidence.site.checks) any |= ahead(c.at);
  return any;
}

/// something_ahead, looked up once for all gates of an instant, and only if one asks.
class StampedAhead {
 public:
  explicit StampedAhead(const SiteEvidence& evidence) : evidence_(evidence) {}
  bool any() {
    if (!any_) any_ = something_ahead(evidence_);
    return *any_;
  }

 private:
  const SiteEvidence& evidence_;
  std::optional<bool> any_;
};

/// What the rule says now; where it would say open, what it says with the facts just ahead, if that is worse.
std::optional<Draft> drafted(const SiteEvidence& evidence, GateRule rule, StampedAhead& stamped_ahead) {
  auto draft = rule(evidence);
  if ((draft && draft->gate.state != GateState::open) || !stamped_ahead.any()) return draft;
  const SiteEvidence ahead(evidence, evidence.clock, evidence.clock.now() + evidence.protocol.future_tolerance.span());
  auto then = rule(ahead);
  const bool worse = then && then->gate.state != GateState::open;
  return worse ? std::move(then) : std::move(draft);
}

std::optional<Gate> answered(const SiteEvidence& evidence, GateRule rule, StampedAhead& stamped_ahead) {
  auto draft = drafted(evidence, rule, stamped_ahead);
  if (!draft) return std::nullopt;
  decide(evidence, rule, *draft);
  say_unusable(evidence, draft->gate);
  return std::move(draft->gate);
}

/// Walks the gate's own changes from `from` to the clock's now: since when it has been open without a break; none: not open now.
std::optional<Instant> open_in(const SiteEvidence& evidence, GateRule rule, Instant from) {
  std::optional<Instant> since;
  for (Instant at = from;;) {
    const Clock clock(at);
    const SiteEvidence then(evidence, clock);
    StampedAhead stamped_ahead(then);
    const auto gate = answered(then, rule, stamped_ahead);
    if (!gate || gate->state != GateState::open) since.reset();
    else if (!since) since = at;
    const auto next = clock.next();
    if (!next || *next > evidence.clock.now()) return since;
    at = *next;
  }
}

/// Looks back in growing steps until the gate is found not open, at most to the start of the case (before it: to where facts begin to count).
std::optional<Instant> open_since(const SiteEvidence& evidence, GateRule rule) {
  const Instant now = evidence.clock.now();
  const Instant start = evidence.facts.start;
  const Instant floor = evidence.clock.reached(start) ? start : std::min(now, start - evidence.protocol.look_back.span());
  for (seconds step = minutes{16};; step *= 4) {
    const Instant from = std::max(floor, now - step);
    const auto since = open_in(evidence, rule, from);
    if (since.value_or(from) > from || from == floor) return since;
  }
}

}  // namespace

std::vector<Gate> list_gates(const SiteEvidence& evidence) {
  std::vector<Gate> gates;
  gates.reserve(std::size(kRules));
  StampedAhead stamped_ahead(evidence);
  for (const auto rule : kRules)
    if (auto gate = answered(evidence, rule, stamped_ahead)) gates.push_back(std::move(*gate));
  return gates;
}

std::vector<Gate> gates_at(const SiteEvidence& evidence) {
  auto gates = list_gates(evidence);
  if (!std::ranges::all_of(gates, [](const Gate& gate) { return gate.state == GateState::open; })) return gates;
  for (auto& gate : gates) gate.since = open_since(evidence, rule_of(gate.name));
  return gates;
}

std::vector<Gate> gates_at(const CaseFacts& facts, const SiteFacts& site, const Protocol& protocol, const Clock& clock) {
  return gates_at(SiteEvidence(facts, site, protocol, clock));
}

}  // namespace clinical
