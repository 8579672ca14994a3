#include "clinical/clotting_test.h"

#include "clinical/clearance.h"
#include "clinical/gates.h"
#include "clinical/laboratory.h"

namespace clinical {
namespace {

/// From when a draw counts after protamine; `known` false: protamine runs on, or its time is not recorded.
struct Protamine {
  bool given = false, known = true;
  std::optional<Instant> clear;
};
Protamine protamine_of(const Evidence& evidence) {
  const auto doses = doses_of(evidence, only(Agent::protamine));
  if (doses.empty()) return {};
  const auto last = last_dose(doses);
  if (!last) return {true, false, std::nullopt};
  return {true, true, last->latest + evidence.protocol.act_after_protamine.span()};
}

/// The last bolus of heparin at a recorded time; home drugs are none.
std::optional<Instant> last_bolus(const Evidence& evidence) {
  std::optional<Instant> last;
  for (const auto& dose : heparin_doses(evidence))
    if (dose.kind == DoseEnd::Kind::ended && !dose.infusion && !dose.home) last = std::max(last.value_or(Instant::min()), dose.end.latest);
  return last;
}

/// Draws after the dose, and those whose time is too coarse to tell unless they are good anyway: a bad one may be the newest.
std::vector<const Measurement*> draws_since(const Evidence& evidence, Analyte analyte, const Moment& dose, Micro limit) {
  std::vector<const Measurement*> since;
  for (const auto* m : evidence.measurements(analyte)) {
    const bool perhaps = !m->at->exact() && m->at->latest > dose.latest && !(m->value && m->value->surely_below(limit));
    if (perhaps || drawn_after(*m->at, dose)) since.push_back(m);
  }
  return since;
}

/// It may be the newest as well.
void take_worse(Newest& last, const Measurement& m) {
  last.draws.push_back(&m);
  if (!last.shown->value || m.value->micro > last.shown->value->micro) last.shown = &m;
}

}  // namespace

bool is_direct_thrombin_inhibitor(Agent a) { return a == Agent::bivalirudin || a == Agent::argatroban; }
bool moves_clotting_tests(Agent a) { return tells(Analyte::act, a) == Tells::clears; }

std::vector<DoseEnd> heparin_doses(const Evidence& evidence) { return doses_of(evidence, only(Agent::heparin), Home::with); }
std::vector<DoseEnd> clotting_doses(const Evidence& evidence) { return doses_of(evidence, moves_clotting_tests, Home::with); }
std::optional<Instant> protamine_clear(const Evidence& evidence) { return protamine_of(evidence).clear; }

const Setting& limit_of(const Protocol& protocol, Analyte analyte) {
  return analyte == Analyte::aptt ? protocol.aptt_limit : protocol.act_limit;
}

std::optional<Instant> repeat_after_protamine(const Evidence& evidence) {
  const auto protamine = doses_of(evidence, only(Agent::protamine));
  const auto last = protamine.empty() ? std::nullopt : last_dose(protamine);
  if (!last || heparin_doses(evidence).empty()) return std::nullopt;
  const Instant repeat = last->latest + evidence.protocol.act_repeat_after_protamine.span();
  for (const Analyte analyte : {Analyte::act, Analyte::aptt})
    for (const auto* m : evidence.measurements(analyte))
      if (m->value && m->at->earliest >= repeat) return std::nullopt;
  return repeat;
}

std::vector<const Measurement*> contradicting(const Evidence& evidence, MeasurementIndex::Measurements draws, const Newest& last) {
  const Micro limit = evidence.protocol.act_limit.micro;
  std::vector<const Measurement*> found;
  if (!last.all([&](const Value& v) { return v.surely_below(limit); })) return found;
  const auto same_origin = [&](const Measurement& m) {
    return !m.analyser.empty() && m.analyser == last.shown->analyser && !m.sampling_site.empty() && m.sampling_site == last.shown->sampling_site;
  };
  const Instant from = last.drawn - evidence.protocol.future_tolerance.span();
  for (const auto* m : draws)
    if (m->at->latest >= from && m->at->latest < last.drawn && m->value && !m->value->surely_below(limit) && !same_origin(*m)) found.push_back(m);
  return found;
}

ClottingTest clotting_test(const Evidence& evidence, Analyte analyte, const Moment& dose) {
  ClottingTest test;
  const Setting& freshness = analyte == Analyte::aptt ? evidence.protocol.fresh_aptt : evidence.protocol.fresh_act;
  const Micro limit = limit_of(evidence.protocol, analyte).micro;
  const auto draws = draws_since(evidence, analyte, dose, limit);
  test.last = newest_of(draws, Worse::higher);
  if (!test.last) return test;
  if (analyte == Analyte::act)
    for (const auto* m : contradicting(evidence, draws, *test.last)) take_worse(*test.last, *m);
  test.fresh_until = test.last->drawn + freshness.span();
  test.fresh = evidence.fresh(test.last->drawn, freshness);
  const Protamine protamine = protamine_of(evidence);
  if (test.last->any([&](const Value& v) { return v.surely_at_least(limit); })) {
    test.state = TestState::over;
  } else if (!test.last->has_value()) {
    test.state = TestState::no_value;
  } else if (protamine.given && (!protamine.known || test.last->drawn < *protamine.clear)) {
    test.state = TestState::before_protamine;
    test.protamine_clear = protamine.clear;
  } else if (!test.last->all([&](const Value& v) { return v.surely_below(limit); })) {
    test.state = TestState::unsure;
  } else if (const auto bolus = last_bolus(evidence); bolus && test.last->drawn < *bolus + evidence.protocol.act_after_bolus.span()) {
    test.state = TestState::after_bolus;
    test.bolus = bolus;
    test.bolus_mixed = *bolus + evidence.protocol.act_after_bolus.span();
  } else {
    test.state = test.fresh ? TestState::under : TestState::stale;
  }
  return test;
}

ClearingTests clearing_tests(const Evidence& evidence, const Moment& dose) {
  ClearingTests tests{clotting_test(evidence, Analyte::act, dose), clotting_test(evidence, Analyte::aptt, dose)};
  const ClottingTest &act = tests.act, &aptt = tests.aptt;
  const bool only_act = !doses_of(evidence, only(Agent::argatroban)).empty();
  tests.act_over = act.state == TestState::over && act.fresh;
  tests.by_act = act.state == TestState::under;
  // An ACT over the limit that was fresh when the aPTT was drawn contradicts it, and goes on doing so: getting old opens nothing.
  const bool contradicted = act.state == TestState::over && aptt.last && *act.fresh_until >= aptt.last->drawn;
  tests.by_aptt = aptt.state == TestState::under && !only_act && !tests.act_over && !contradicted;
  return tests;
}

bool thrombin_inhibitor_demands_test(const Evidence& evidence) {
  if (!doses_of(evidence, only(Agent::argatroban)).empty()) return true;
  if (doses_of(evidence, only(Agent::bivalirudin)).empty()) return false;
  const Protocol& p = evidence.protocol;
  const auto row = clearance_row(clearance_of(evidence), {p.bivalirudin_clearance_moderate.micro, p.bivalirudin_clearance_severe.micro,
                                                          p.bivalirudin_clearance_ask.micro});
  return row && (*row == 1 || *row == 2);
}

const Statement* test_unavailable(const Evidence& evidence) {
  const Statement* newest_statement = nullptr;
  for (const auto* s : evidence.statements(StatementKind::coagulation_test_unavailable, evidence.facts.start))
    if (!newest_statement || s->at->earliest > newest_statement->at->earliest) newest_statement = s;
  if (!newest_statement) return nullptr;
  for (const Analyte analyte : {Analyte::act, Analyte::aptt})
    for (const auto* m : evidence.measurements(analyte))
      if (m->at->latest > newest_statement->at->earliest) return nullptr;
  return newest_statement;
}

bool heparin_clock_applies(const Evidence& evidence) {
  return !heparin_doses(evidence).empty() && test_unavailable(evidence) != nullptr;
}

const Measurement* any_over_since(const Evidence& evidence, Analyte analyte, const std::optional<Moment>& dose) {
  const Micro limit = limit_of(evidence.protocol, analyte).micro;
  const Measurement* found = nullptr;
  for (const auto* m : evidence.measurements(analyte))
    if (m->value && m->value->surely_at_least(limit) && (!dose || !drawn_after(*dose, *m->at))) found = m;
  return found;
}

}  // namespace clinical
