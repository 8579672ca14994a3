#include "clinical/decision.h"

#include <algorithm>

#include "clinical/names.h"

namespace clinical {
namespace {

struct Parts {
  std::string number, unit;
};
Parts parts_of(std::string_view text) {
  const auto first = text.find_first_not_of(' ');
  if (first == std::string_view::npos) return {};
  text.remove_prefix(first);
  auto end = text.find_first_not_of("<>=+-.0123456789");
  Parts parts{std::string(text.substr(0, end)), {}};
  if (end != std::string_view::npos)
    for (const char c : text.substr(end))
      if (c != ' ') parts.unit += c;
  if (parts.number.find('.') != std::string::npos) {
    parts.number.erase(parts.number.find_last_not_of('0') + 1);
    if (parts.number.back() == '.') parts.number.pop_back();
  }
  return parts;
}

/// No worse than what the clinician saw: better, or only waiting for a fresh value.
bool no_worse(const Draft& then, const Draft& later) {
  if (later.gate.state == GateState::open || later.gate.state == GateState::needs) return true;
  if (later.gate.state != GateState::ask || later.gate.why.code != then.gate.why.code) return false;
  return then.severity && later.severity ? *later.severity <= *then.severity : later.gate.why == then.gate.why;
}

/// The situation at the decision was this question with this value, and at no instant since then was it worse.
bool still_stands(const SiteEvidence& evidence, GateRule rule, const Decision& decision) {
  const Instant from = decision.at->earliest;
  std::optional<Draft> then;
  for (Instant at = from;;) {
    const Clock clock(at);
    const auto draft = rule(SiteEvidence(evidence, clock));
    if (!draft) return false;
    if (!then) {
      if (draft->gate.state != GateState::ask || !quotes(decision.value_seen, draft->gate.value_seen)) return false;
      then = draft;
    } else if (!no_worse(*then, *draft)) {
      return false;
    }
    const auto next = clock.next();
    if (!next || *next > evidence.known()) return true;
    at = *next;
  }
}

// Where no value is quoted nothing tells what the clinician knew: a fact that was recorded or put right afterwards is new.
bool changed_since(const SiteEvidence& evidence, const Decision& decision, const Gate& gate) {
  const auto rests_on = [&](const ChangedSince& c) { return std::ranges::find(gate.inputs, c.reference, &Source::reference) != gate.inputs.end(); };
  return gate.value_seen.empty() &&
         std::ranges::any_of(decision.changed_since, [&](const ChangedSince& c) { return rests_on(c) && evidence.counts(exactly(c.at)); });
}

// A no ends what was decided before it, from the time on at which it was said.
bool refused_later(const SiteEvidence& evidence, const Decision& decision) {
  return std::ranges::any_of(evidence.facts.decisions, [&](const Decision& d) {
    return d.refused && d.subject == decision.subject && (!d.at || (d.at->latest >= decision.at->earliest && evidence.counts(*d.at)));
  });
}

}  // namespace

bool withdrawn(const Decision& decision, const std::vector<Decision>& all) {
  if (decision.refused) return true;
  return decision.at && std::ranges::any_of(all, [&](const Decision& d) { return d.refused && d.subject == decision.subject && (!d.at || d.at->latest >= decision.at->earliest); });
}

bool quotes(std::string_view quoted, std::string_view seen) {
  if (quoted == seen) return true;
  if (seen.empty()) return false;  // nothing is to be quoted: whatever is said there, "no" perhaps, is about something else
  const Parts a = parts_of(quoted), b = parts_of(seen);
  return !a.number.empty() && a.number == b.number && (a.unit == b.unit || a.unit.empty() || b.unit.empty());
}

void decide(const SiteEvidence& evidence, GateRule rule, Draft& draft) {
  if (draft.gate.state != GateState::ask) return;
  for (const auto& decision : evidence.facts.decisions) {
    if (decision.subject != name_of(draft.gate.name) || decision.performer.empty() || !evidence.counts(decision.at) || !decision.at->exact()) continue;
    const Instant until = decision.at->earliest + evidence.protocol.decision_validity.span();
    if (decision.refused || refused_later(evidence, decision) || changed_since(evidence, decision, draft.gate)) continue;
    if (!evidence.clock.still(until) || !still_stands(evidence, rule, decision)) continue;
    Gate& gate = draft.gate;
    gate.state = GateState::open;
    gate.clock_ends.reset();
    gate.expires_at = gate.expires_at ? std::min(*gate.expires_at, until) : until;
    gate.why = {"gate.decided", {{"by", decision.performer}, {"at", decision.at->earliest}, {"until", until}}};
    gate.rule = evidence.protocol.decision_validity.rule.key;
    gate.source = evidence.protocol.decision_validity.rule.source;
    add_source(gate.inputs, decision.source);
    return;
  }
}

}  // namespace clinical
