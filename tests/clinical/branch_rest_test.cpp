// The last corners: answers that are there before the question, drugs that end together, weights of a long stay, values whose time or size is only roughly known.
// Clinical model, section by section; invented cases.
#include <gmock/gmock.h>

#include <algorithm>

#include "clinical/body.h"
#include "clinical/clearance.h"
#include "clinical/doses.h"
#include "clinical/projection.h"
#include "mutants_gates_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart resting() {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  return chart;
}

// The act gate where it exists, else the aptt: whoever draws is told why.
TEST(Draw, SaysWhyAlsoWhereOnlyAnApttTells) {
  Chart chart = plain_chart(6);
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  auto& drug = chart.bolus(Agent::bivalirudin, 0, hm(12, 10));
  drug.bolus = false;
  drug.dose.reset();
  drug.end = exactly(hm(13, 30));
  chart.pressure(128, hm(14, 30)), chart.lab(Analyte::heart_rate, 70, hm(14, 30)), chart.check(hm(14, 30));
  chart.lab(Analyte::aptt, 40, hm(14, 20));
  auto plan = chart.plan(hm(14, 35));  // 2 h after the stop, 15:30, everything is old
  EXPECT_EQ(say(*step(plan, Step::draw_coagulation).why).substr(0, 14), "gate.aptt.open");
  EXPECT_THAT(step(plan, Step::draw_coagulation).basis.back().inputs, testing::Not(testing::IsEmpty()));
  chart.lab(Analyte::aptt, 60, hm(14, 30));
  plan = chart.plan(hm(14, 35));
  EXPECT_EQ(step(plan, Step::draw_coagulation).why->code, "gate.aptt.over-limit");
}

TEST(Draw, OfTwoGatesTheOneThatIsNotOpen) {
  const auto why = [](double act, double aptt) {
    Chart chart = intervention_chart(6);
    chart.lab(Analyte::act, act, hm(15));
    chart.lab(Analyte::aptt, aptt, hm(15));
    const auto plan = chart.plan(hm(15, 5));
    const auto found = std::ranges::find(plan.sites[0].milestones, Step::draw_coagulation, &Milestone::step);
    return found == plan.sites[0].milestones.end() ? std::string("none") : found->why->code;
  };
  EXPECT_EQ(why(200, 60), "gate.act.over-limit");
  EXPECT_EQ(why(140, 60), "gate.aptt.over-limit");
  EXPECT_EQ(why(200, 40), "gate.act.over-limit");
  EXPECT_EQ(why(140, 40), "none");
}

// A dose stamped a little ahead counts at once (bedside clocks run fast), and the draw after it is no earlier for that.
TEST(Draw, WithADoseStampedAhead) {
  Chart chart = intervention_chart(6);
  auto& open_end = chart.bolus(Agent::heparin, 0, hm(12, 30));
  open_end.bolus = false, open_end.end.reset(), open_end.status = AdministrationStatus::completed;
  const auto before = step(chart.plan(hm(13, 30)), Step::draw_coagulation).earliest;
  chart.bolus(Agent::heparin, 2000, hm(13, 32));
  EXPECT_GE(step(chart.plan(hm(13, 30)), Step::draw_coagulation).earliest, before);
}

// A clinician ordered the device's total before the pull: the sheath may come out.
TEST(HoldOrdered, BeforeThePull) {
  Chart chart = plain_chart(8, Closure::mechanical);
  chart.pressure(128, hm(15)), chart.lab(Analyte::heart_rate, 70, hm(15)), chart.check(hm(15));
  auto plan = chart.plan(hm(15, 5));
  ASSERT_EQ(step(plan, Step::remove_sheath).why->code, "hold.ask-device-total");
  chart.decide(Step::end_compression, std::to_string(step(plan, Step::end_compression).planned->count()) + " min", hm(15, 2));
  EXPECT_EQ(step(chart.plan(hm(15, 5)), Step::remove_sheath).status, StepStatus::due);
}

// Who confirmed which groin: a confirmation from before the gates opened counts for no pull, and each that is made is numbered.
TEST(Confirmation, OlderOnesAreNumbered) {
  Chart chart = plain_chart(6);
  chart.pressure(128, hm(15)), chart.lab(Analyte::heart_rate, 70, hm(15)), chart.check(hm(15));
  const auto ordinal = [&](const std::function<void(TaskFact&)>& change) {
    Chart one = chart;
    change(one.done(Step::confirm_readiness, hm(14, 30)));
    return step(one.plan(hm(15, 5)), Step::confirm_readiness).ordinal;
  };
  EXPECT_EQ(ordinal([](TaskFact&) {}), 1);
  EXPECT_EQ(ordinal([](TaskFact& t) { t.state = TaskState::in_progress; }), 0);
  EXPECT_EQ(ordinal([](TaskFact& t) { t.changed.reset(); }), 0);
  EXPECT_EQ(ordinal([](TaskFact& t) { t.changed = exactly(hm(15)); }), 0) << "it is the one that counts";
  EXPECT_EQ(ordinal([](TaskFact& t) { t.procedure = "Procedure/p1"; }), 1);
  EXPECT_EQ(ordinal([](TaskFact& t) { t.procedure = "Procedure/other"; }), 0) << "of another groin";
  Chart blocked = chart;
  std::erase_if(blocked.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::heart_rate; });
  blocked.done(Step::confirm_readiness, hm(14, 30));
  EXPECT_EQ(step(blocked.plan(hm(15, 5)), Step::confirm_readiness).ordinal, 0) << "no gate has opened since";
}

// Pressures of the device where the protocol sets them (invented figures): of two readings of one instant the higher; partial pressure needs both.
TEST(DevicePressure, FromTheHigherReadingOfOneInstant) {
  Protocol p = cautious();
  const auto set = [](std::int64_t n, const char* key) { return Setting{whole(n), SettingUnit::mmhg, {key, "invented for the test", "P", "OWN", "2026-11-27"}}; };
  p.pressure_full = set(20, "hold.mechanical.pressure-full");
  p.pressure_partial = set(0, "hold.mechanical.pressure-partial");
  const auto said = [&](Step s, const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6, Closure::mechanical);
    pull_at(chart, hm(15));
    chart.decide(Step::end_compression, std::to_string(step(chart.plan(hm(15, 2)), Step::end_compression).planned->count()) + " min", hm(15, 1));
    std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::systolic && m.at->latest >= hm(15); });
    change(chart);
    const auto plan = chart.plan(hm(15, 2), p);
    return say(*step(plan, s).why);
  };
  const auto two = [](double a, double b) { return [=](Chart& c) { c.lab(Analyte::systolic, a, hm(15, 1)), c.lab(Analyte::systolic, b, hm(15, 1)); }; };
  EXPECT_EQ(said(Step::firm_compression, two(120, 130)), "hold.pressure-set{pressure=150 mmHg}");
  EXPECT_EQ(said(Step::firm_compression, two(130, 120)), "hold.pressure-set{pressure=150 mmHg}");
  EXPECT_EQ(said(Step::partial_compression, two(130, 120)), "hold.pressure-needs-mean");
  EXPECT_EQ(said(Step::partial_compression, [](Chart& c) { c.lab(Analyte::systolic, 130, hm(15, 1)), c.lab(Analyte::mean_pressure, 95, hm(15, 1)); }), "hold.pressure-set{pressure=95 mmHg}");
}

// A hold of several stages before early rows: one that was ever done by a device is none of the trials'.
TEST(EarlyRows, AHoldThatChangedItsMethod) {
  Chart chart = plain_chart(6);
  chart.index().uncomplicated = true;
  pull_at(chart, hm(15));
  chart.record.access_events.back().method = Closure::mechanical;
  chart.event(compression_started, hm(15, 20)).method = Closure::manual;
  chart.event(haemostasis_confirmed, hm(15, 50));
  const auto plan = chart.plan(hm(16), early_walk());
  EXPECT_TRUE(std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return b.rule == "early-walk.excluded.closure" && b.arithmetic.code == "rest.early-met"; }));
}

TEST(EarlyRows, ATabletOfTheDayBeforeAndNothingToldOfTheProcedure) {
  Chart chart = resting();
  std::erase_if(chart.record.statements, [](const Statement&) { return true; });
  HomeDrug d;
  d.source = chart.source();
  d.agent = Agent::apixaban;
  d.last_dose = exactly(hm(8));
  chart.record.home_drugs.push_back(d);
  const auto plan = chart.plan(hm(16), early_walk());
  std::string said;
  for (const auto& b : step(plan, Step::stand_and_walk).basis)
    if (b.rule.starts_with("early-walk.excluded.")) said += b.rule.substr(20) + (b.arithmetic.code == "rest.early-met" ? " " : "? ");
  EXPECT_THAT(said, testing::HasSubstr("home-anticoagulant "));
  EXPECT_THAT(said, testing::HasSubstr("anticoagulant? "));
}

// Complete, dry, as before, and with pain in the back: stamped ahead it counts at once, and it is no look that has been made.
TEST(EarlyRows, ALookStampedAhead) {
  Chart chart = resting();
  chart.check(hm(16, 2)).back_pain = true;
  const auto plan = chart.plan(hm(16), early_walk());
  EXPECT_TRUE(std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return b.rule == "early-walk.excluded.bleeding" && b.arithmetic.code == "rest.early-not-recorded"; }));
}

// What is stamped ahead and good waits for its time; a fall or a rise is told only against a value that is exact, timed and earlier.
TEST(StampedAhead, AFallAgainstWhat) {
  const auto counts = [](Analyte analyte, double before, double after, const std::function<void(Measurement&)>& change = [](Measurement&) {}) {
    Chart chart = plain_chart(6);
    std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
    change(chart.lab(analyte, before, hm(13)));
    chart.lab(analyte, after, hm(13, 32));
    for (const auto& m : chart.plan(hm(13, 30)).shown_values)
      if (m.analyte == analyte) return m.at == exactly(hm(13, 32));
    return false;
  };
  EXPECT_TRUE(counts(Analyte::haemoglobin, 14, 12)) << "2 g/dL";
  EXPECT_FALSE(counts(Analyte::haemoglobin, 14, 12.1));
  EXPECT_FALSE(counts(Analyte::haemoglobin, 14, 12, [](Measurement& m) { m.value = compared(Comparator::greater, 14); }));
  EXPECT_FALSE(counts(Analyte::haemoglobin, 14, 12, [](Measurement& m) { m.at.reset(); }));
  EXPECT_FALSE(counts(Analyte::haemoglobin, 14, 12, [](Measurement& m) { m.value.reset(); }));
  EXPECT_TRUE(counts(Analyte::systolic, 140, 110)) << "30 mmHg";
  EXPECT_FALSE(counts(Analyte::systolic, 151, 110)) << "it was high before: no baseline";
  EXPECT_FALSE(counts(Analyte::systolic, 89, 95)) << "or low";
  EXPECT_TRUE(counts(Analyte::creatinine, 0.9, 1.0));
  EXPECT_FALSE(counts(Analyte::creatinine, 1.0, 1.0));
  EXPECT_FALSE(counts(Analyte::creatinine, 0.9, 1.0, [](Measurement& m) { m.at.reset(); }));
  EXPECT_FALSE(counts(Analyte::creatinine, 0.9, 1.0, [](Measurement& m) { m.value.reset(); }));
  EXPECT_FALSE(counts(Analyte::oxygen_saturation, 96, 95));
}

// A swelling of nothing is nothing bad; any other is.
TEST(StampedAhead, ACheck) {
  const auto seen = [](const std::function<void(SiteCheck&)>& change) {
    Chart chart = plain_chart(6);
    change(chart.check(hm(13, 32)));
    return chart.plan(hm(13, 30)).sites[0].last_check.has_value();
  };
  EXPECT_FALSE(seen([](SiteCheck&) {}));
  EXPECT_FALSE(seen([](SiteCheck& c) { c.swelling.reset(); }));
  EXPECT_TRUE(seen([](SiteCheck& c) { c.swelling = amount(1, "cm"); }));
  EXPECT_TRUE(seen([](SiteCheck& c) { c.swelling.reset(), c.voided = false; }));
}

// Weight: of this stay, or 30 days old (model, "Freshness"); any adult height.
TEST(Weights, OfALongStay) {
  const auto weighed = [](std::optional<Instant> stay, Instant at, Instant now = hm(13)) {
    Bedside bed = bare();
    if (stay) {
      Encounter e;
      e.start = exactly(*stay);
      bed.facts.encounter = e;
    }
    bed.lab(Analyte::weight, 80, at);
    const Clock clock(now);
    return weights_of(Evidence(bed.facts, cautious(), clock), now).size();
  };
  EXPECT_EQ(weighed({}, hm(12 - 24 * 30)), 1U);
  EXPECT_EQ(weighed({}, hm(11 - 24 * 30)), 0U);
  EXPECT_EQ(weighed(hm(-24 * 40), hm(-24 * 35)), 1U) << "of this stay";
  EXPECT_EQ(weighed(hm(-24 * 34), hm(-24 * 35)), 0U);
  EXPECT_EQ(weighed({}, hm(13, 1)), 0U) << "not yet";
  Bedside tall = bare();
  tall.lab(Analyte::height, 180, hm(13, 1));
  const Clock clock(hm(13));
  EXPECT_FALSE(height_of(Evidence(tall.facts, cautious(), clock), hm(13)));
}

TEST(Kidneys, ValuesThatTellNothing) {
  const auto result = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    change(bed);
    return clearance_at(bed.facts, cautious(), Clock(kNow));
  };
  EXPECT_TRUE(result([](Bedside&) {}).clearance);
  const auto value_of = [](Bedside& b, Analyte a) -> Value& { return *std::ranges::find(b.facts.measurements, a, &Measurement::analyte)->value; };
  EXPECT_FALSE(result([&](Bedside& b) { value_of(b, Analyte::weight) = compared(Comparator::greater, 80); }).clearance);
  EXPECT_FALSE(result([&](Bedside& b) { value_of(b, Analyte::weight) = amount(0); }).clearance);
  EXPECT_TRUE(result([&](Bedside& b) { value_of(b, Analyte::height) = compared(Comparator::greater, 180); }).band_worse);
  EXPECT_TRUE(result([&](Bedside& b) { value_of(b, Analyte::height) = amount(0); }).band_worse);
  // Half more within 7 d is a rise (from memory); of 8 d before it is none.
  EXPECT_TRUE(result([](Bedside& b) { b.lab(Analyte::creatinine, 0.6, hm(8 - 24 * 7)); }).unstable);
  EXPECT_FALSE(result([](Bedside& b) { b.lab(Analyte::creatinine, 0.6, hm(7 - 24 * 7)); }).unstable);
}

// Two doses that end together: where one of them is known by its day alone the clock is not known to the second either.
TEST(Doses, ThatEndTogether) {
  const auto exact = [](bool first, bool second) {
    const Moment sure = exactly(hm(12)), rough{hm(11), hm(12)};
    std::vector<DoseEnd> doses(2);
    for (auto& d : doses) d.kind = DoseEnd::Kind::ended;
    doses[0].end = first ? sure : rough;
    doses[1].end = second ? sure : rough;
    return clock_end(doses, [](const DoseEnd&) -> const Setting& { return cautious().lmwh_subcutaneous; }).exact;
  };
  EXPECT_TRUE(exact(true, true));
  EXPECT_FALSE(exact(true, false));
  EXPECT_FALSE(exact(false, true));
  EXPECT_FALSE(exact(false, false));
}

// A curve that is kept for the next evaluation gives what a new one would, whatever changed.
TEST(KeptCurve, IsTheCurveOfTheSameValues) {
  const HalfLifePrior prior{90, 120}, other{80, 120}, slower{90, 130};
  const ActPoint anchor{hm(13), 290}, lower{hm(13), 280}, later_anchor{hm(13, 1), 290};
  const std::vector<ActPoint> none, one{{hm(13, 40), 250}}, two{{hm(13, 40), 250}, {hm(14, 10), 220}}, different{{hm(13, 40), 240}, {hm(14, 10), 220}};
  LastActCurve kept;
  const auto same = [&](ActPoint a, double baseline, HalfLifePrior pr, const std::vector<ActPoint>& later, double error) {
    EXPECT_EQ(kept.of(a, baseline, pr, later, error).crossed(150, 0.5), ActCurve(a, baseline, pr, later, error).crossed(150, 0.5));
  };
  for (const auto* later : {&none, &one, &two, &one, &different, &two, &none}) same(anchor, 130, prior, *later, 10);
  same(lower, 130, prior, none, 10), same(later_anchor, 130, prior, none, 10), same(anchor, 120, prior, none, 10);
  same(anchor, 130, other, none, 10), same(anchor, 130, slower, none, 10), same(anchor, 130, slower, none, 5), same(anchor, 130, slower, none, 5);
}

// Two draws of one minute, one without a value: nobody knows that the other is the newest.
TEST(NewestValue, OfTwoOneCannotBeRead) {
  Bedside bed = ready();
  bed.no_value(Analyte::act, hm(15));
  EXPECT_EQ(bed.gate(GateName::act, kNow)->why.code, "gate.act.no-value");
}

TEST(HaemoglobinAlert, AValueWithAComparatorIsNeitherTopNorBottom) {
  Chart chart = plain_chart(6);
  chart.lab(Analyte::haemoglobin, 20, hm(13)).value = compared(Comparator::greater, 20);
  chart.lab(Analyte::haemoglobin, 13, hm(13, 20));
  EXPECT_FALSE(find_alert(chart.plan(hm(13, 30)), "haemoglobin-fall"));
}

TEST(PlateletAlert, ACountWithAComparatorIsNoTop) {
  Chart chart = plain_chart(6);
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; });
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  chart.bolus(Agent::heparin, 5000, hm(12, 20));
  chart.lab(Analyte::platelets, 400, hm(12, 10)).value = compared(Comparator::greater, 400);
  chart.lab(Analyte::platelets, 180, hm(13, 20));
  EXPECT_FALSE(find_alert(chart.plan(hm(13, 30)), "platelet-fall"));
}

// A drug for longer use known without a time tells nothing of home; within the week before it does.
TEST(HomeTold, ByAnAdministrationBefore) {
  const auto state = [](const std::function<void(Administration&)>& change) {
    Bedside bed = ready();
    without_list(bed);
    change(bed.bolus(Agent::warfarin, hm(-24), 5, DoseUnit::milligram));
    return bed.state_of(GateName::home_anticoagulants, kNow);
  };
  EXPECT_EQ(state([](Administration&) {}), GateState::open);
  EXPECT_EQ(state([](Administration& a) { a.start.reset(), a.end.reset(); }), GateState::needs);
}

// An INR is demanded with warfarin, not with another drug that is known.
TEST(InrDemanded, NotWithAnotherDrug) {
  Chart chart = plain_chart(6);
  std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::inr; });
  const auto added = [&](Agent agent) {
    Chart one = chart;
    std::erase_if(one.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
    HomeDrug d;
    d.source = one.source();
    d.agent = agent;
    d.last_dose = exactly(hm(-120));
    one.record.home_drugs.push_back(d);
    const auto plan = one.plan(hm(13, 10));
    return std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return say(b).find("@add.inr") != std::string::npos; });
  };
  EXPECT_TRUE(added(Agent::warfarin));
  EXPECT_FALSE(added(Agent::apixaban));
}

// A home tablet in the hours before the start sizes the plan; where home is not told nobody knows.
TEST(ProceduralAnticoagulant, AtHome) {
  const auto known = [](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    without_heparin(bed), without_list(bed);
    bed.state(StatementKind::no_anticoagulant_given, hm(13));
    change(bed);
    return procedural_anticoagulant(bed.facts, bed.facts.sites.front(), cautious(), Clock(kNow));
  };
  EXPECT_EQ(known([](Bedside& b) { b.nil_list(hm(9)); }), Tristate::no);
  EXPECT_EQ(known([](Bedside&) {}), Tristate::unknown);
  EXPECT_EQ(known([](Bedside& b) { b.home(Agent::warfarin, exactly(hm(6))); }), Tristate::yes);
  EXPECT_EQ(known([](Bedside& b) { b.home(Agent::warfarin, std::nullopt); }), Tristate::yes) << "nobody knows when";
  EXPECT_EQ(known([](Bedside& b) { b.home(Agent::warfarin, exactly(hm(-72))); }), Tristate::no);
}

// A closure that failed and was closed by suture after that is closed.
TEST(FailedClosure, ClosedBySutureAfterwards) {
  const auto rest = [](Closure second) {
    Chart chart = plain_chart(6, Closure::device);
    pull_at(chart, hm(15));
    chart.event(closure_failed, hm(15, 1));
    chart.event(compression_started, hm(15, 2)).method = second;
    const auto plan = chart.plan(hm(15, 5));
    return std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return say(b).find("device-failed") != std::string::npos; });
  };
  EXPECT_TRUE(rest(Closure::manual));
  EXPECT_FALSE(rest(Closure::suture));
  EXPECT_FALSE(rest(Closure::device));
}

// After the walk a foot that goes cold withholds the steps that are left, and the checks after the walk still stand by their clock.
TEST(AfterTheWalk, SignsOfTheLimb) {
  Chart chart = resting();
  for (int quarter = 0; quarter < 26; ++quarter) chart.check(hm(15, 20) + minutes{15 * quarter});
  chart.done(Step::stand_and_walk, hm(21, 30));
  chart.check(hm(21, 40)).foot_pulse = FootPulse::absent;
  const auto plan = chart.plan(hm(21, 45));
  EXPECT_EQ(step(plan, Step::discharge_check).why->code, "withheld.limb");
  EXPECT_EQ(say(step(plan, Step::check_after_walk, 1).earliest), "22:00");
}

// Of two groins: what is said of the walk that was taken does not speak of the other groin's clock any more.
TEST(AfterTheWalk, TheDischargeStandsByTheWalk) {
  Chart chart = resting();
  for (auto& e : chart.record.access_events) e.side = Side::right;
  for (auto& c : chart.record.checks) c.side = Side::right;
  chart.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1";
  chart.event(sheath_removed, hm(15, 30), "Procedure/p2");
  chart.event(haemostasis_confirmed, hm(15, 50), "Procedure/p2");
  const auto latest = [&](Instant now) {
    const auto plan = chart.plan(now);
    return std::ranges::any_of(step(plan.sites[1], Step::discharge_check).basis, [](const Basis& b) { return b.rule == "rest.latest"; });
  };
  EXPECT_TRUE(latest(hm(16)));
  chart.done(Step::stand_and_walk, hm(21, 30));
  EXPECT_FALSE(latest(hm(21, 40)));
}

// After a swelling that voided T0: the small one that stays and the high pressure are counted once each, and the rest outlasts what it would have been.
TEST(OutgrownClock, WithASwellingAndAHighPressure) {
  const auto walk = [](bool swollen, bool high) {
    Chart chart = resting();
    chart.check(hm(16)).swelling = amount(5.5, "cm");
    chart.event(compression_started, hm(16, 2));
    chart.event(haemostasis_confirmed, hm(16, 30));
    if (swollen) chart.check(hm(17)).swelling = amount(2, "cm");
    if (high) chart.lab(Analyte::systolic, 165, hm(17, 30));
    return *step(chart.plan(hm(18)), Step::stand_and_walk).after_t0;
  };
  EXPECT_GT(walk(true, false), walk(false, false));
  EXPECT_GT(walk(false, true), walk(false, false));
  EXPECT_GE(walk(true, true), walk(true, false));
  EXPECT_GE(walk(true, true), walk(false, true));
}

// The first pressure sitting and the first standing are asked for until they are measured (common practice, no source).
TEST(PositionPressure, IsAskedForUntilItIsMeasured) {
  const auto about = [](const std::function<void(Chart&)>& change) {
    Chart chart = resting();
    for (int quarter = 0; quarter < 26; ++quarter) chart.check(hm(15, 20) + minutes{15 * quarter});
    chart.pressure(120, hm(21, 20));
    chart.done(Step::sit_up, hm(21, 25));
    change(chart);
    std::string said;
    for (const auto& m : chart.plan(hm(21, 34)).missing)
      if (m.fact == Fact::blood_pressure) said += m.about;
    return said;
  };
  EXPECT_EQ(about([](Chart&) {}), "pressure-sitting");
  EXPECT_EQ(about([](Chart& c) { c.pressure(118, hm(21, 26)); }), "");
  EXPECT_EQ(about([](Chart& c) { c.done(Step::stand_and_walk, hm(21, 30)); }), "pressure-standing");
  EXPECT_EQ(about([](Chart& c) { c.lab(Analyte::systolic, 170, hm(21, 36)); }), "pressure-sitting") << "stamped ahead: not measured yet";
  EXPECT_EQ(about([](Chart& c) { c.done(Step::discharge_check, hm(21, 32)); }), "pressure-sitting") << "before its time: it does not count";
  EXPECT_EQ(about([](Chart& c) { c.event(rebleed, hm(21, 30)); }), "") << "flat again";
}

// A value whose time spans the start may be of the case: a bad one counts, a good one does not hide an older.
TEST(WorstValue, OfATimeThatSpansTheStart) {
  const auto added = [](double count) {
    Chart chart = plain_chart(6);
    chart.lab(Analyte::platelets, count, hm(12)).at = Moment{hm(11), hm(12, 5)};
    const auto plan = chart.plan(hm(13, 10));
    return std::ranges::any_of(step(plan, Step::stand_and_walk).basis, [](const Basis& b) { return say(b).find("@add.platelets") != std::string::npos; });
  };
  EXPECT_TRUE(added(80));
  EXPECT_FALSE(added(180));
}

// Longest and strongest of several orders, in any order.
TEST(Orders, InAnyOrder) {
  const auto rest = [](std::vector<int> hours_ordered) {
    Chart chart = resting();
    for (const int h : hours_ordered) {
      Order o;
      o.source = chart.source();
      o.kind = OrderKind::bed_rest;
      o.length = minutes{60 * h};
      chart.record.orders.push_back(o);
    }
    return *step(chart.plan(hm(15, 30)), Step::stand_and_walk).planned;
  };
  EXPECT_EQ(rest({7, 8, 9}), minutes{540});
  EXPECT_EQ(rest({9, 8, 7}), minutes{540});
  const auto forbidden = [](std::vector<bool> forbids) {
    Chart chart = plain_chart(6);
    for (const bool f : forbids) {
      Order o;
      o.source = chart.source();
      o.kind = OrderKind::sheath_removal;
      o.title = f ? "Leave it (invented)" : "Later (invented)";
      o.forbids = f;
      if (!f) o.not_before = exactly(hm(18));
      chart.record.orders.push_back(o);
    }
    return step(chart.plan(hm(13, 10)), Step::remove_sheath).why->code;
  };
  EXPECT_EQ(forbidden({true, true}), "removal.order-forbids");
  EXPECT_EQ(forbidden({true, false}), "removal.order-forbids");
  EXPECT_EQ(forbidden({false, true}), "removal.order-forbids");
  EXPECT_NE(forbidden({false, false}), "removal.order-forbids");
}

// A finished case is not asked about any more.
TEST(FinishedCase, ANegativeIntervalIsNotToldThen) {
  Chart chart = resting();
  auto& dose = chart.bolus(Agent::enoxaparin, 40, hm(13));
  dose.bolus = false;
  dose.end = exactly(hm(12, 50));
  const auto told = [&](Instant now) {
    const auto plan = chart.plan(now);
    return std::ranges::any_of(plan.conflicts, [](const Conflict& c) { return c.about == "negative-interval"; });
  };
  EXPECT_TRUE(told(hm(16)));
  EXPECT_FALSE(told(hm(15 + 49)));
}

}  // namespace
}  // namespace clinical
