// Single rules at the instant or value that decides them, where no table of another file has a place for them. Clinical model, section by section.
#include <algorithm>

#include "mutants_gates_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

HomeDrug taken(Chart& chart, Agent agent, std::optional<Instant> last) {
  HomeDrug d;
  d.source = chart.source();
  d.agent = agent;
  if (last) d.last_dose = exactly(*last);
  return d;
}

// "The first value after the last heparin is an exact anchor": in value and in time.
TEST(ProjectionEdges, TheAnchorIsExact) {
  const auto computed = [](const std::function<void(Measurement&)>& change, double value = 290) {
    Chart chart = intervention_chart(6);
    change(chart.lab(Analyte::act, value, hm(13)));
    const auto plan = chart.plan(hm(13, 30));
    return plan.sites[0].projection && plan.sites[0].projection->computed;
  };
  EXPECT_TRUE(computed([](Measurement&) {}));
  EXPECT_FALSE(computed([](Measurement& m) { m.at = Moment{hm(13), hm(13, 1)}; }));
  EXPECT_FALSE(computed([](Measurement& m) { m.value->comparator = Comparator::greater; }));
  EXPECT_FALSE(computed([](Measurement& m) { m.value.reset(); }));
  EXPECT_TRUE(computed([](Measurement&) {}, 350));
  EXPECT_FALSE(computed([](Measurement&) {}, 351));
  EXPECT_FALSE(computed([](Measurement&) {}, 150)) << "at the limit there is nothing to fall to";
  EXPECT_TRUE(computed([](Measurement&) {}, 151));
}

// Later values only from the same analyser, site and test; one of these out of range ends the projection.
TEST(ProjectionEdges, WhichLaterValuesCount) {
  const auto p50 = [](const std::function<void(Measurement&)>& change, double value = 250) {
    Chart chart = intervention_chart(6);
    chart.lab(Analyte::act, 290, hm(13));
    change(chart.lab(Analyte::act, value, hm(13, 20)));
    const auto plan = chart.plan(hm(13, 25));
    return say(plan.sites[0].projection->p50);
  };
  const std::string alone = "17:30";
  EXPECT_NE(p50([](Measurement&) {}), alone) << "it counts";
  EXPECT_EQ(p50([](Measurement& m) { m.analyser = "analyser B"; }), alone);
  EXPECT_EQ(p50([](Measurement& m) { m.analyser.clear(); }), alone);
  EXPECT_EQ(p50([](Measurement& m) { m.sampling_site = "vein"; }), alone);
  EXPECT_EQ(p50([](Measurement& m) { m.sampling_site.clear(); }), alone);
  EXPECT_EQ(p50([](Measurement& m) { m.test_code = "other"; }), alone);
  EXPECT_EQ(p50([](Measurement&) {}, 351), "-") << "out of range";
  EXPECT_EQ(p50([](Measurement& m) { m.value.reset(); }), "-") << "nobody knows what it was";
  Chart unknown = intervention_chart(6);
  unknown.lab(Analyte::act, 290, hm(13)).analyser.clear();
  unknown.lab(Analyte::act, 250, hm(13, 20)).analyser.clear();
  EXPECT_EQ(say(unknown.plan(hm(13, 25)).sites[0].projection->p50), alone) << "two unknown analysers are not one";
}

// B is the last comparable value before the first heparin, by the minute.
TEST(ProjectionEdges, TheBaseline) {
  const auto p50 = [](const std::function<void(Chart&)>& change) {
    Chart chart = intervention_chart(6);
    chart.lab(Analyte::act, 290, hm(13));
    change(chart);
    const auto plan = chart.plan(hm(13, 25));
    return plan.sites[0].projection->computed ? say(plan.sites[0].projection->p50) : std::string("none");
  };
  // B 110: 90 * log2(180 / 40) = 195.3 min: 16:15:18.
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 110, hm(12, 4)); }), "16:15:18");
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 140, hm(12, 3)); c.lab(Analyte::act, 110, hm(12, 4)); }), "16:15:18") << "the last";
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 110, hm(12, 5)); }), "17:30") << "of the minute of the dose";
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 110, hm(12, 4)).analyser = "analyser B"; }), "17:30");
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 110, hm(12, 4)).value->comparator = Comparator::less; }), "17:30");
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 110, hm(12, 4)).at = Moment{hm(12, 3), hm(12, 4)}; }), "17:30");
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 149, hm(12, 4)); }), "23:42:34") << "90 * log2(141 / 1) = 642.56 min";
  EXPECT_EQ(p50([](Chart& c) { c.lab(Analyte::act, 150, hm(12, 4)); }), "none") << "at the limit";
  EXPECT_EQ(p50([](Chart& c) { c.bolus(Agent::heparin, 1000, hm(12, 20)); c.lab(Analyte::act, 110, hm(12, 10)); }), "17:30") << "before the first dose, not between two";
  EXPECT_EQ(p50([](Chart& c) { c.bolus(Agent::protamine, 10, hm(12, 30)); }), "none") << "protamine moves it";
}

TEST(DecisionEdges, OnlyForTheQuestionThatWasAsked) {
  const auto state = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    bed.lab(Analyte::haemoglobin, 7.5, hm(14, 20));
    bed.decide(GateName::haemoglobin, "7.5", hm(14, 30));
    change(bed);
    return bed.state_of(GateName::haemoglobin, kNow);
  };
  EXPECT_EQ(state([](Bedside&) {}), GateState::open);
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::haemoglobin, 7.6, hm(14, 40)); }), GateState::open) << "no worse";
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::haemoglobin, 7.4, hm(14, 40)); }), GateState::ask) << "worse";
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::haemoglobin, 7.4, hm(14, 40)); b.lab(Analyte::haemoglobin, 7.6, hm(14, 50)); }), GateState::ask) << "it was worse in between";
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::haemoglobin, 9, hm(14, 40)); }), GateState::ask) << "a fall by 4.5 is another question";
  EXPECT_EQ(state([](Bedside& b) { b.lab(Analyte::haemoglobin, 7.4, kNow); }), GateState::ask) << "worse at this very instant";
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].performer.clear(); }), GateState::ask);
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].at.reset(); }), GateState::ask);
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].at = Moment{hm(14, 29), hm(14, 30)}; }), GateState::ask);
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].at = exactly(hm(14, 19)); }), GateState::ask) << "from before the value";
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].at = exactly(kNow + seconds{1}); }), GateState::ask) << "not made yet";
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].subject = "platelets"; }), GateState::ask);
  EXPECT_EQ(state([](Bedside& b) { b.facts.decisions[0].value_seen = "7.4"; }), GateState::ask);
}

TEST(DecisionEdges, EachKindOfQuestionKnowsWhatIsWorse) {
  const auto still = [](GateName gate, const std::function<void(Bedside&)>& asked, const char* seen, const std::function<void(Bedside&)>& later) {
    Bedside bed = ready();
    asked(bed);
    bed.decide(gate, seen, hm(14, 30));
    later(bed);
    return bed.state_of(gate, hm(14, 50)) == GateState::open;
  };
  const auto value = [](Analyte a, double v, Instant at) { return [=](Bedside& b) { b.lab(a, v, at); }; };
  const auto fibrinogen = [&](double v, Instant at) { return [=](Bedside& b) { if (at == hm(14)) b.bolus(Agent::alteplase, hm(13)); b.lab(Analyte::fibrinogen, v, at); }; };
  EXPECT_TRUE(still(GateName::fibrinolytic, fibrinogen(1.8, hm(14)), "1.8", fibrinogen(1.8, hm(14, 40))));
  EXPECT_TRUE(still(GateName::fibrinolytic, fibrinogen(1.8, hm(14)), "1.8", fibrinogen(2, hm(14, 40))));
  EXPECT_FALSE(still(GateName::fibrinolytic, fibrinogen(1.8, hm(14)), "1.8", fibrinogen(1.7, hm(14, 40))));
  EXPECT_TRUE(still(GateName::warfarin_inr, value(Analyte::inr, 1.7, hm(14)), "1.7", value(Analyte::inr, 1.6, hm(14, 40))));
  EXPECT_FALSE(still(GateName::warfarin_inr, value(Analyte::inr, 1.7, hm(14)), "1.7", value(Analyte::inr, 1.8, hm(14, 40))));
  const auto fast = [](double v, Instant at) { return [=](Bedside& b) { b.facts.measurements.erase(std::remove_if(b.facts.measurements.begin(), b.facts.measurements.end(), [](const Measurement& m) { return m.analyte == Analyte::heart_rate && m.at->latest == hm(15); }), b.facts.measurements.end()); b.lab(Analyte::heart_rate, v, at); }; };
  EXPECT_TRUE(still(GateName::heart_rate, fast(125, hm(14, 28)), "125", fast(122, hm(14, 40))));
  EXPECT_FALSE(still(GateName::heart_rate, fast(125, hm(14, 28)), "125", fast(126, hm(14, 40))));
  EXPECT_TRUE(still(GateName::heart_rate, fast(45, hm(14, 28)), "45", fast(46, hm(14, 40))));
  EXPECT_FALSE(still(GateName::heart_rate, fast(45, hm(14, 28)), "45", fast(44, hm(14, 40))));
  EXPECT_FALSE(still(GateName::heart_rate, fast(45, hm(14, 28)), "45", fast(125, hm(14, 40))));
  const auto platelets = [](double v, Instant at) { return [=](Bedside& b) { if (at == hm(14, 25)) { b.facts.administrations[0].start = b.facts.administrations[0].end = exactly(hm(10)); b.facts.start = hm(9, 50); b.bolus(Agent::tirofiban, hm(12)); } b.lab(Analyte::platelets, v, at); }; };
  EXPECT_TRUE(still(GateName::gp_inhibitor, platelets(80, hm(14, 25)), "80", platelets(81, hm(14, 40))));
  EXPECT_FALSE(still(GateName::gp_inhibitor, platelets(80, hm(14, 25)), "80", platelets(79, hm(14, 40))));
}

TEST(PullEdges, ADoseThatEndedAtThePullHadEnded) {
  const auto state = [](Instant end) {
    Chart chart = intervention_chart(6);
    pull_at(chart, hm(15));
    auto& a = chart.bolus(Agent::heparin, 0, hm(13));
    a.bolus = false;
    a.end = exactly(end);
    const auto plan = chart.plan(hm(15, 5));
    return say(step(plan, Step::remove_sheath).basis.at(0));
  };
  EXPECT_EQ(state(hm(15)), "gate.act.limit removal.pulled-while{gate=@gate.act state=@gate-state.needs} from 9 17");
  EXPECT_EQ(state(hm(15, 0, 1)), "gate.act.limit removal.pulled-while{gate=@gate.act state=@gate-state.closed} from 17");
}

TEST(PullEdges, WhatWasKnownThen) {
  Bedside bed = ready();
  CaseFacts& facts = bed.facts;
  facts.procedure_end = hm(13);
  facts.unplaced_checks.push_back(facts.sites[0].checks[0]);
  bed.state(StatementKind::coagulation_test_unavailable, hm(15));
  bed.state(StatementKind::no_anticoagulant_given, hm(15));
  bed.risk(RiskKind::cough).from = exactly(hm(15));
  bed.decide(GateName::act, "x", hm(15));
  TaskFact task;
  task.changed = exactly(hm(15));
  facts.tasks.push_back(task);
  const auto counted = [&](Instant at) {
    const CaseFacts then = as_known_at(facts, at);
    return say(then.procedure_end) + " " + std::to_string(then.measurements.size()) + " " + std::to_string(then.sites[0].checks.size()) + " " + std::to_string(then.unplaced_checks.size()) + " " +
           std::to_string(then.statements.size()) + " " + std::to_string(then.risks.size()) + " " + std::to_string(then.decisions.size()) + " " + std::to_string(then.tasks.size()) + " " + std::to_string(then.administrations.size());
  };
  EXPECT_EQ(counted(hm(15)), "13:00 0 1 1 2 1 1 1 1");
  EXPECT_EQ(counted(hm(14, 59, 59)), "13:00 0 0 0 1 0 0 0 1") << "a statement about the history counts whenever made";
  EXPECT_EQ(counted(hm(13)).substr(0, 5), "13:00");
  EXPECT_EQ(counted(hm(12, 59, 59)).substr(0, 1), "-");
  EXPECT_EQ(as_known_at(facts, hm(14)).statements[0].at, exactly(hm(14))) << "and told it then";
}

TEST(RemovalEdges, TheLatestOfTheClocks) {
  Bedside bed = ready();
  bed.bolus(Agent::enoxaparin, hm(7, 12));                    // + 8 h = 15:12
  bed.infusion(Agent::bivalirudin, hm(12, 10), hm(13, 10));   // + 2 h = 15:10
  EXPECT_EQ(say(bed.removal(kNow).earliest), "15:12");
  EXPECT_EQ(bed.removal(kNow).status, StepStatus::expected);
}

// In the low pressure of a clamp an unknown pressure at the pull counts: the plan changes the second after it is no longer fresh.
TEST(NextChangeEdges, AnExpiringPressureIsOne) {
  Chart chart = plain_chart(6, Closure::mechanical);
  chart.lab(Analyte::systolic, 120, hm(13, 5));
  EXPECT_EQ(step(chart.plan(hm(13, 20)), Step::low_pressure_hold).planned, minutes{60});
  EXPECT_EQ(step(chart.plan(hm(13, 20, 1)), Step::low_pressure_hold).planned, minutes{90});
  EXPECT_EQ(say(chart.plan(hm(13, 16)).next_change), "13:20:01");
}

TEST(HoldEdges, OrderedPhaseByPhase) {
  Chart chart = plain_chart(8, Closure::mechanical);
  pull_at(chart, hm(15));
  const auto plan = chart.plan(hm(15, 5));
  ASSERT_EQ(step(plan, Step::end_compression).status, StepStatus::blocked);
  EXPECT_EQ(step(plan, Step::dress_site).why->code, "hold.ask-device-total") << "nor is there a dressing time";
  const Step phases[] = {Step::firm_compression, Step::partial_compression, Step::reduce_pressure, Step::low_pressure_hold};
  for (const auto phase : phases) {
    EXPECT_EQ(step(chart.plan(hm(15, 5)), Step::end_compression).status, StepStatus::blocked);
    chart.decide(phase, std::to_string(step(plan, phase).planned->count()) + " min", hm(15, 2));
  }
  EXPECT_NE(step(chart.plan(hm(15, 5)), Step::end_compression).status, StepStatus::blocked);
  EXPECT_EQ(say(step(chart.plan(hm(15, 5)), Step::firm_compression)), "due 15:00 3min released | hold.pressure-by-operator");
}

// A look at one groin is one look, however many punctures are in it.
TEST(AlertEdges, OneLookAtTwoPuncturesCountsOnce) {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 5, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  chart.check(hm(13, 30), "").chest_pain = true;
  chart.check(hm(13, 40), "").chest_pain = false;
  for (auto& c : chart.record.checks) c.side = Side::right;
  auto plan = chart.plan(hm(13, 45));
  ASSERT_TRUE(find_alert(plan, "chest-pain")) << "one normal look does not end it";
  EXPECT_EQ(say(*find_alert(plan, "chest-pain")), "emergency since 13:30 | alert.chest-pain{at=13:30} | from 9");
  chart.check(hm(13, 50), "").chest_pain = false;
  chart.record.checks.back().side = Side::right;
  EXPECT_FALSE(find_alert(chart.plan(hm(13, 55)), "chest-pain"));
}

// A case of three days ago, and one of today: what names no Procedure is of today.
TEST(CaseEdges, WhatHappensAfterACaseIsNoneOfIt) {
  Chart chart = plain_chart(6);
  chart.index().start = exactly(hm(12 - 72));
  chart.index().end = exactly(hm(13 - 72));
  for (const auto kind : {sheath_removed, compression_started}) chart.event(kind, hm(14 - 72));
  chart.event(haemostasis_confirmed, hm(14 - 72, 20));
  chart.procedure("p9", 6);
  chart.event(compression_started, hm(13, 30), "");
  const auto plans = chart.plans(hm(14));
  ASSERT_EQ(plans.size(), 2u);
  EXPECT_EQ(plans[0].state, CaseState::finished);
  EXPECT_EQ(say(plans[0].sites[0].compression_started), "-3d 14:00");
  EXPECT_EQ(say(plans[1].sites[0].compression_started), "13:30");
}

// Dry without a removal or a hold on record: nobody knows how long it was held.
TEST(EarlyEdges, DryWithoutAHold) {
  Chart chart = plain_chart(6);
  chart.index().uncomplicated = true;
  chart.event(haemostasis_confirmed, hm(15, 40));
  chart.check(hm(15, 55));
  const auto plan = chart.plan(hm(16), early_walk());
  std::string names;
  for (const auto& basis : step(plan, Step::stand_and_walk).basis)
    if (basis.rule.starts_with("early-walk.excluded.")) names += basis.rule.substr(20) + (basis.arithmetic.code == "rest.early-met" ? " " : "? ");
  EXPECT_EQ(names, "gate-not-open? pressure? short-hold? ");
}

// Warfarin in the hours before the start sizes the plan; tablets of earlier days do not.
TEST(AnticoagulantEdges, WhatSizesThePlan) {
  const auto floor_of = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(4);   // 15 min, 20 with an anticoagulant
    change(chart);
    return step(chart.plan(hm(13, 10)), Step::end_compression).planned->count();
  };
  const auto home = [](Agent agent, std::optional<Instant> last) { return [=](Chart& c) { c.record.statements.pop_back(); c.record.home_drugs.push_back(taken(c, agent, last)); }; };
  EXPECT_EQ(floor_of([](Chart&) {}), 15);
  EXPECT_EQ(floor_of([](Chart& c) { c.record.statements.clear(); }), 20);
  EXPECT_EQ(floor_of(home(Agent::apixaban, hm(6))), 20) << "6 h before";
  EXPECT_EQ(floor_of(home(Agent::apixaban, hm(5, 59, 59))), 20) << "its hold of 48 h has not run out";
  EXPECT_EQ(floor_of(home(Agent::apixaban, hm(-35))), 15) << "1 March 13:00 is 48 h after 28 February 13:00: it has";
  EXPECT_EQ(floor_of(home(Agent::apixaban, hm(-34, 49))), 20) << "not yet at 13:10";
  EXPECT_EQ(floor_of(home(Agent::apixaban, {})), 20) << "nobody knows when";
  EXPECT_EQ(floor_of(home(Agent::aspirin, hm(8))), 20) << "aspirin tells nothing of anticoagulants";
  EXPECT_EQ(floor_of([](Chart& c) { c.record.statements.erase(c.record.statements.begin()); }), 20) << "nobody told";
  EXPECT_EQ(floor_of([](Chart& c) { c.record.statements.erase(c.record.statements.begin()); c.bolus(Agent::enoxaparin, 40, hm(4)); }), 20) << "an enoxaparin of 04:00 + 8 h has run out, but nobody told what was given";
  EXPECT_EQ(floor_of([](Chart& c) { c.bolus(Agent::enoxaparin, 40, hm(5)).route = Route::subcutaneous; }), 15) << "given before 06:00, and 05:00 + 8 h = 13:00 has passed";
  EXPECT_EQ(floor_of([](Chart& c) { c.bolus(Agent::enoxaparin, 40, hm(5, 11)).route = Route::subcutaneous; }), 20) << "until 13:11";
}

}  // namespace
}  // namespace clinical
