// haemoglobin: low, or fallen since the highest of the week before; newer than any sign of bleeding.
#include <algorithm>

#include "clinical/gate_rules.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

constexpr auto kName = GateName::haemoglobin;

Draft needs(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  Draft made = draft(kName, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, Fact::haemoglobin);
  return made;
}

/// The newest sign of bleeding at any site of the patient: blood, growth or a large swelling at a check, back pain, a rebleed. A check that names
/// none of several sites was made at one of them.
std::optional<Moment> last_bleeding_sign(const Evidence& evidence) {
  std::optional<Moment> last;
  const auto look = [&](const Moment& at) {
    if (evidence.counts(at) && (!last || at.latest > last->latest)) last = at;
  };
  const auto look_at = [&](const std::vector<SiteCheck>& checks) {
    for (const auto& check : checks) {
      const bool large = check.swelling && !check.swelling->surely_below(evidence.protocol.swelling_limit.micro);
      if (check.bleeding == Bleeding::bleeding || check.growth == true || large || check.back_pain) look(*check.at);
    }
  };
  for (const auto& site : evidence.facts.sites) {
    look_at(site.checks);
    for (const Instant at : site.rebleeds) look(exactly(at));
  }
  look_at(evidence.facts.unplaced_checks);
  return last;
}

/// The highest exact value (whatever test gave it: a fall is never explained away) since the baseline window began, other than the newest itself; null: none to compare with.
const Measurement* baseline_of(const Evidence& evidence, const Newest& last) {
  const Instant from = evidence.facts.start - evidence.protocol.haemoglobin_baseline.span();
  const Measurement* highest = nullptr;
  for (const auto* m : evidence.measurements(Analyte::haemoglobin)) {
    if (m == last.shown || !m->value || !m->value->exact() || m->at->latest < from) continue;
    if (!highest || m->value->micro > highest->value->micro) highest = m;
  }
  return highest;
}

}  // namespace

std::optional<Draft> haemoglobin_gate(const SiteEvidence& evidence) {
  const Protocol& p = evidence.protocol;
  const auto last = newest(evidence, Analyte::haemoglobin, Worse::lower);
  if (!last) return needs("gate.haemoglobin.none", {}, p.fresh_haemoglobin.rule, {});
  std::vector<Source> inputs = last->sources();
  if (!last->has_value()) return needs("gate.haemoglobin.no-value", {{"drawn", last->when()}}, p.fresh_haemoglobin.rule, inputs);
  const Value& value = last->value();
  if (const auto sign = last_bleeding_sign(evidence); sign && !drawn_after(exactly(last->drawn), *sign))
    return needs("gate.haemoglobin.after-bleeding", {{"value", value}, {"drawn", last->when()}, {"sign", sign->latest}}, p.fresh_haemoglobin.rule, inputs);
  if (!evidence.fresh(last->drawn, p.fresh_haemoglobin)) return needs("gate.haemoglobin.stale", {{"value", value}, {"drawn", last->when()}}, p.fresh_haemoglobin.rule, inputs);
  const auto gate = [&](GateState state, const char* code, Arguments more, const Setting& limit) {
    Arguments arguments{{"value", value}, {"drawn", last->when()}, {"limit", as_value(limit)}};
    arguments.insert(arguments.end(), more.begin(), more.end());
    Draft made = draft(kName, state, limit.rule, code, std::move(arguments), inputs);
    made.gate.value_seen = value.written;
    made.gate.expires_at = last->drawn + p.fresh_haemoglobin.span();
    if (state == GateState::ask) made.severity = -value.micro;
    return made;
  };
  if (last->any([&](const Value& v) { return v.surely_below(p.haemoglobin_low.micro); })) return gate(GateState::ask, "gate.haemoglobin.low", {}, p.haemoglobin_low);
  if (!last->all([](const Value& v) { return v.exact(); })) return needs("gate.haemoglobin.unsure", {{"value", value}}, p.haemoglobin_low.rule, inputs);
  const Measurement* baseline = baseline_of(evidence, *last);
  if (!baseline) {
    Draft open = gate(GateState::open, "gate.haemoglobin.one-value", {}, p.haemoglobin_low);
    ask_for(open.gate, Fact::haemoglobin);
    return open;
  }
  add_source(inputs, baseline->source);
  const Arguments compared{{"baseline", *baseline->value}, {"measured", when(*baseline->at)}};
  if (baseline->value->micro - value.micro >= p.haemoglobin_fall.micro) return gate(GateState::ask, "gate.haemoglobin.fall", compared, p.haemoglobin_fall);
  return gate(GateState::open, "gate.haemoglobin.open", compared, p.haemoglobin_low);
}

}  // namespace clinical
