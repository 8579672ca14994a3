// blood-pressure and heart-rate.
#include <algorithm>

#include "clinical/gate_rules.h"
#include "clinical/newest.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

Draft needs(GateName name, Fact fact, const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  Draft made = draft(name, GateState::needs, rule, code, std::move(arguments), std::move(inputs));
  ask_for(made.gate, fact);
  return made;
}

Draft needs_pressure(const char* code, Arguments arguments, const Rule& rule, std::vector<Source> inputs) {
  return needs(GateName::blood_pressure, Fact::blood_pressure, code, std::move(arguments), rule, std::move(inputs));
}

/// One pressure, systolic or diastolic, as the limits see it.
struct Pressure {
  const Measurement* at;
  bool diastolic;
};
enum class Range { open, ask, low, high, unsure };

Range range_of(const Pressure& pressure, const Protocol& p) {
  const Value& v = *pressure.at->value;
  if (pressure.diastolic) {
    if (v.surely_at_least(p.diastolic_close.micro)) return Range::high;
    return v.surely_below(p.diastolic_close.micro) ? Range::open : Range::unsure;
  }
  if (v.surely_at_least(p.systolic_close.micro)) return Range::high;
  if (v.surely_below(p.systolic_low.micro)) return Range::low;
  if (!v.surely_at_least(p.systolic_low.micro)) return Range::unsure;
  if (v.surely_below(p.systolic_open_below.micro)) return Range::open;
  return v.surely_below(p.systolic_close.micro) ? Range::ask : Range::unsure;
}

/// All pressures with a value, by time.
std::vector<Pressure> pressures_of(const Evidence& evidence) {
  std::vector<Pressure> all;
  for (const Analyte analyte : {Analyte::systolic, Analyte::diastolic})
    for (const auto* m : evidence.measurements(analyte))
      if (m->value) all.push_back({m, analyte == Analyte::diastolic});
  std::stable_sort(all.begin(), all.end(), [](const Pressure& a, const Pressure& b) { return a.at->at->earliest < b.at->at->earliest; });
  return all;
}

/// The worst pressure of the minutes before the newest: high and low before unsure before ask before open; of equal ranges the larger value.
Pressure worst_in_window(const std::vector<Pressure>& all, Instant from, const Protocol& p) {
  const auto rank = [&](const Pressure& x) {
    constexpr int order[] = {0, 1, 4, 3, 2};
    return std::pair(order[static_cast<std::size_t>(range_of(x, p))], x.diastolic ? -1 : x.at->value->micro);
  };
  std::optional<Pressure> worst;
  for (const auto& x : all)
    if (x.at->at->latest >= from && (!worst || rank(x) > rank(*worst))) worst = x;
  return *worst;
}

/// After a high pressure: since it, the unbroken run of open pressures up to the newest must span the time that two readings lie apart.
/// A reading of the same instant as one that is not open is no reading after it.
bool settled_after_high(const std::vector<Pressure>& all, Instant newest_at, const Protocol& p) {
  Instant run_from{}, bad_until = Instant::min();
  bool run = false, high_lately = false;
  for (const auto& x : all) {
    const Range range = range_of(x, p);
    if (range == Range::high && x.at->at->latest >= newest_at - p.pressure_after_high.span()) high_lately = true;
    if (range != Range::open) run = false, bad_until = std::max(bad_until, x.at->at->latest);
    else if (!run && !x.diastolic && x.at->at->earliest > bad_until) run = true, run_from = x.at->at->earliest;
  }
  return !high_lately || (run && newest_at - run_from >= p.pressure_apart.span());
}

}  // namespace

std::optional<Draft> blood_pressure_gate(const SiteEvidence& evidence) {
  const Protocol& p = evidence.protocol;
  const auto systolic = newest(evidence, Analyte::systolic, Worse::higher);
  const auto diastolic = newest(evidence, Analyte::diastolic, Worse::higher);
  if (!systolic) return needs_pressure("gate.blood-pressure.none", {}, p.fresh_pressure.rule, {});
  std::vector<Source> inputs = systolic->sources();
  if (diastolic) add_sources(inputs, diastolic->sources());
  const Instant drawn = diastolic ? std::min(systolic->drawn, diastolic->drawn) : systolic->drawn;
  if (!systolic->has_value() || !diastolic || !diastolic->has_value())
    return needs_pressure("gate.blood-pressure.incomplete", {{"at", systolic->when()}}, p.fresh_pressure.rule, inputs);
  if (!evidence.fresh(drawn, p.fresh_pressure)) return needs_pressure("gate.blood-pressure.stale", {{"at", drawn}}, p.fresh_pressure.rule, inputs);
  const auto all = pressures_of(evidence);
  const Instant newest_at = std::max(systolic->drawn, diastolic->drawn);
  const Pressure worst = worst_in_window(all, newest_at - p.pressure_window.span(), p);
  add_source(inputs, worst.at->source);
  const Value& value = *worst.at->value;
  const auto gate = [&](GateState state, const char* code, const Setting& limit) {
    Draft made = draft(GateName::blood_pressure, state, limit.rule, code, {{"value", value}, {"at", when(*worst.at->at)}, {"limit", as_value(limit)}}, inputs);
    made.gate.value_seen = value.written;
    made.gate.expires_at = drawn + p.fresh_pressure.span();
    return made;
  };
  switch (range_of(worst, p)) {
    case Range::high:
      return worst.diastolic ? gate(GateState::closed, "gate.blood-pressure.diastolic-high", p.diastolic_close)
                             : gate(GateState::closed, "gate.blood-pressure.high", p.systolic_close);
    case Range::low: return gate(GateState::closed, "gate.blood-pressure.low", p.systolic_low);
    case Range::unsure: return needs_pressure("gate.blood-pressure.unsure", {{"value", value}}, p.systolic_open_below.rule, inputs);
    default: break;
  }
  if (!settled_after_high(all, newest_at, p))
    return needs_pressure("gate.blood-pressure.after-high", {{"apart", p.pressure_apart.span()}, {"limit", as_value(p.systolic_open_below)}}, p.pressure_after_high.rule, inputs);
  if (range_of(worst, p) == Range::open) return gate(GateState::open, "gate.blood-pressure.open", p.systolic_open_below);
  Draft ask = gate(GateState::ask, "gate.blood-pressure.between", p.systolic_open_below);
  ask.severity = value.micro;
  return ask;
}

std::optional<Draft> heart_rate_gate(const SiteEvidence& evidence) {
  constexpr auto kName = GateName::heart_rate;
  const Protocol& p = evidence.protocol;
  const auto last = newest(evidence, Analyte::heart_rate, Worse::higher);
  if (!last) return needs(kName, Fact::heart_rate, "gate.heart-rate.none", {}, p.fresh_heart_rate.rule, {});
  if (!last->has_value()) return needs(kName, Fact::heart_rate, "gate.heart-rate.no-value", {{"at", last->when()}}, p.fresh_heart_rate.rule, last->sources());
  if (!evidence.fresh(last->drawn, p.fresh_heart_rate)) return needs(kName, Fact::heart_rate, "gate.heart-rate.stale", {{"at", last->when()}}, p.fresh_heart_rate.rule, last->sources());
  const auto gate = [&](GateState state, const char* code, const Setting& limit, const Value& value) {
    Draft made = draft(kName, state, limit.rule, code, {{"value", value}, {"at", last->when()}, {"limit", as_value(limit)}}, last->sources());
    made.gate.value_seen = value.written;
    made.gate.expires_at = last->drawn + p.fresh_heart_rate.span();
    return made;
  };
  const Value& high = last->value();
  const Value& low = *(*std::min_element(last->draws.begin(), last->draws.end(), [](const auto* a, const auto* b) { return a->value->micro < b->value->micro; }))->value;
  if (low.surely_below(p.heart_rate_close_below.micro)) return gate(GateState::closed, "gate.heart-rate.very-low", p.heart_rate_close_below, low);
  const auto ask = [&](const char* code, const Setting& limit, const Value& value, Micro severity) {
    Draft made = gate(GateState::ask, code, limit, value);
    made.severity = severity;
    return made;
  };
  if (surely_above(high, p.heart_rate_high_open.micro)) return ask("gate.heart-rate.high", p.heart_rate_high_open, high, high.micro);
  if (low.surely_below(p.heart_rate_low_open.micro)) return ask("gate.heart-rate.low", p.heart_rate_low_open, low, -low.micro);
  if (!high.exact() || !low.exact()) return needs(kName, Fact::heart_rate, "gate.heart-rate.unsure", {{"value", high}}, p.fresh_heart_rate.rule, last->sources());
  return gate(GateState::open, "gate.heart-rate.open", p.heart_rate_high_open, high);
}

}  // namespace clinical
