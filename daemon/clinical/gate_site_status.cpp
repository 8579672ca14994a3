// site-status: a fresh, complete look at groin and foot.
#include <algorithm>

#include "clinical/gate_rules.h"
#include "clinical/quantity.h"
#include "clinical/unread.h"

namespace clinical {
namespace {

constexpr const char* kUnsure = "gate.site-status.swelling-unsure";

/// What one check says against removal; null: nothing.
const char* finding(const SiteCheck& check, Micro swelling_limit) {
  if (check.bleeding == Bleeding::bleeding) return "gate.site-status.bleeding";
  if (check.growth == true) return "gate.site-status.growing";
  if (check.swelling && check.swelling->surely_at_least(swelling_limit)) return "gate.site-status.swelling";
  if (check.foot_pulse == FootPulse::absent) return "gate.site-status.pulse-absent";
  if (check.foot_pulse == FootPulse::weaker) return "gate.site-status.pulse-weaker";
  if (check.swelling && !check.swelling->surely_below(swelling_limit)) return kUnsure;
  return nullptr;
}

Draft needs_check(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  Draft made = draft(GateName::site_status, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, Fact::site_check);
  return made;
}

/// The newest complete check without a finding, the newest finding that is not older than it, and the newest look that is not complete and not older either:
/// an older check does not stand in for what a newer one left open. Checks of one instant: the finding wins, and so does what cannot be read; what is
/// recorded bit by bit in one instant is no newer look.
struct Looks {
  const SiteCheck* newest = nullptr;
  const SiteCheck* clearing = nullptr;
  const SiteCheck* bad = nullptr;
  const SiteCheck* open = nullptr;
};
bool leaves_open(const SiteCheck& look, const SiteCheck* clearing) {
  if (!clearing) return true;
  return look.at->latest > clearing->at->earliest || (!look.unread.empty() && look.at->latest == clearing->at->earliest);
}
Looks looks_of(const SiteEvidence& evidence, Micro limit) {
  Looks looks;
  for (const auto& check : evidence.site.checks) {
    if (!evidence.counts(check.at) || !check.of_a_groin()) continue;
    if (!looks.newest || check.at->earliest >= looks.newest->at->earliest) looks.newest = &check;
    if (finding(check, limit)) {
      if (!looks.bad || check.at->latest >= looks.bad->at->latest) looks.bad = &check;
    } else if (check.complete() && (!looks.clearing || check.at->earliest > looks.clearing->at->earliest)) {
      looks.clearing = &check;
    }
  }
  if (looks.bad && looks.clearing && looks.bad->at->latest < looks.clearing->at->earliest) looks.bad = nullptr;
  for (const auto& check : evidence.site.checks) {
    const bool partial = evidence.counts(check.at) && check.looks() && !check.complete() && leaves_open(check, looks.clearing);
    if (!partial) continue;
    const bool later = !looks.open || check.at->earliest > looks.open->at->earliest;
    if (later || (check.at->earliest == looks.open->at->earliest && looks.open->unread.empty())) looks.open = &check;
  }
  return looks;
}

/// "As before" says nothing where nobody recorded what was felt before.
bool baseline_recorded(const SiteEvidence& evidence) {
  return std::ranges::any_of(evidence.site.checks, [&](const SiteCheck& c) { return !c.baseline_pulses.empty() && evidence.counts(c.at); });
}

}  // namespace

std::optional<Draft> site_status_gate(const SiteEvidence& evidence) {
  const Setting& limit = evidence.protocol.swelling_limit;
  const Setting& freshness = evidence.protocol.fresh_site_check;
  const Looks looks = looks_of(evidence, limit.micro);
  if (!looks.newest) return needs_check("gate.site-status.none", {}, freshness.rule, {});
  if (looks.bad) {
    const Instant seen = looks.bad->at->earliest;
    const Argument said = when(*looks.bad->at);
    const char* code = finding(*looks.bad, limit.micro);
    if (code == kUnsure) return needs_check(code, {{"at", said}, {"limit", as_value(limit)}}, limit.rule, {looks.bad->source});
    if (!evidence.fresh(seen, freshness)) return needs_check("gate.site-status.look-again", {{"at", said}}, freshness.rule, {looks.bad->source});
    Draft made = draft(GateName::site_status, GateState::closed, limit.rule, code, {{"at", said}, {"limit", as_value(limit)}}, {looks.bad->source});
    made.gate.expires_at = seen + freshness.span();
    return made;
  }
  if (looks.open && !looks.open->unread.empty()) return needs_check("gate.site-status.unread", unread_words(*looks.open), freshness.rule, {looks.open->source});
  if (looks.open || !looks.clearing) {
    const SiteCheck& look = looks.open ? *looks.open : *looks.newest;
    return needs_check("gate.site-status.incomplete", {{"at", when(*look.at)}}, freshness.rule, {look.source});
  }
  const Instant seen = looks.clearing->at->earliest;
  const Argument said = when(*looks.clearing->at);
  if (!evidence.fresh(seen, freshness)) return needs_check("gate.site-status.stale", {{"at", said}}, freshness.rule, {looks.clearing->source});
  if (!baseline_recorded(evidence)) {
    Draft needs = draft(GateName::site_status, GateState::needs, limit.rule, "gate.site-status.no-baseline", {{"at", said}}, {looks.clearing->source});
    ask_for(needs.gate, Fact::baseline_pulses);
    return needs;
  }
  Draft made = draft(GateName::site_status, GateState::open, limit.rule, "gate.site-status.open", {{"at", said}}, {looks.clearing->source});
  made.gate.expires_at = seen + freshness.span();
  return made;
}

}  // namespace clinical
