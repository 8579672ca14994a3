// What the random cases of tests/campaign found, each as the smallest record that showed it.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

minutes rest_of(const Chart& chart, Instant now) { return step(chart.plan(now), Step::stand_and_walk).after_t0.value_or(minutes{-1}); }

TEST(Found, AGrowingSwellingBeforeHaemostasisCountsNoLessThanAStableOne) {
  const auto with = [](double size, std::optional<bool> growth) {
    auto chart = plain_chart(6);
    auto& check = chart.check(hm(14));
    check.swelling = amount(size, "cm");
    check.growth = growth;
    return rest_of(chart, hm(14, 5));
  };
  EXPECT_EQ(with(0, false), hours{6});
  EXPECT_EQ(with(2, false), hours{8});
  EXPECT_EQ(with(2, true), hours{8});
  EXPECT_EQ(with(6, false), hours{8});
  EXPECT_EQ(with(0, true), hours{8});
  auto chart = plain_chart(6);
  auto& check = chart.check(hm(14));
  check.swelling.reset();
  check.growth = true;
  EXPECT_EQ(rest_of(chart, hm(14, 5)), hours{8});
}

TEST(Found, AHighPressureOnARestThatSwellingVoidedIsNotForgotten) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  chart.pressure(165, hm(16));
  EXPECT_EQ(step(chart.plan(hm(16, 1)), Step::stand_and_walk).earliest, hm(22, 25));   // 6 h + 1 h
  auto worse = chart;
  worse.check(hm(16, 5)).growth = true;
  worse.event(haemostasis_confirmed, hm(16, 25));
  const auto& walk = step(worse.plan(hm(16, 30)), Step::stand_and_walk);
  ASSERT_TRUE(walk.earliest);
  EXPECT_EQ(*walk.earliest, hm(15, 25) + hours{9}) << "as with a small swelling beside the pressure: 6 h + 2 h + 1 h from the first T0";
}

TEST(Found, ACheckStampedAheadIsNotYetMade) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.check(hm(14, 6)).bleeding = Bleeding::ooze;
  const auto ahead = chart.plan(hm(14, 4));
  for (const auto& m : ahead.sites.front().milestones) EXPECT_FALSE(m.step == Step::check_site && m.actual && *m.actual > hm(14, 4)) << m.ordinal;
  const auto later = chart.plan(hm(14, 6)).sites.front().milestones;
  EXPECT_TRUE(std::ranges::any_of(later, [](const Milestone& m) { return m.step == Step::check_site && m.actual == hm(14, 6); }));
}

TEST(Found, AFailureWrittenDownLaterDoesNotTakeTheClampOff) {
  for (const int minute : {0, 5}) {
    auto chart = plain_chart(6, Closure::suture);
    pull_at(chart, hm(14));
    chart.record.access_events.back().method = Closure::mechanical;
    chart.event(closure_failed, hm(14, minute));
    chart.event(haemostasis_confirmed, hm(14, 10));
    EXPECT_FALSE(chart.plan(hm(14, 15)).sites.front().t0) << "the device is still on";
    EXPECT_EQ(chart.plan(hm(14, 15)).sites.front().closure, Closure::mechanical);
    chart.event(compression_ended, hm(16));
    EXPECT_EQ(chart.plan(hm(16, 5)).sites.front().t0, hm(16));
  }
}

TEST(Found, TheOrderOfProceduresAndConflictsIsNotThatOfTheRecord) {
  auto chart = plain_chart(6);
  for (const char* id : {"p3", "p2"}) chart.procedure(id, 6).part_of = "Procedure/p1";
  chart.event(sheath_inserted, hm(12, 2)).procedure = "Procedure/p1";   // which of three?
  for (const auto analyte : {Analyte::act, Analyte::aptt}) chart.lab(analyte, 40, hm(16));   // still to come
  const auto view = written_view(chart.plans(hm(15)));
  std::ranges::reverse(chart.record.procedures);
  std::ranges::reverse(chart.record.measurements);
  EXPECT_EQ(written_view(chart.plans(hm(15))), view);
  const auto plan = chart.plan(hm(15));
  ASSERT_EQ(plan.sites.size(), 3U);
  EXPECT_EQ(plan.sites[1].key, "Procedure/p2");
}

TEST(Found, AFinishedCaseStaysAsItWasAtItsEnd) {
  auto chart = intervention_chart(6);
  Encounter stay;
  stay.source = {"Encounter/e", "1", false};
  stay.start = exactly(hm(8));
  stay.end = exactly(hm(18));
  chart.record.encounters.push_back(stay);
  pull_at(chart, hm(15));
  chart.event(AccessEventKind::compression_started, hm(15));
  chart.event(AccessEventKind::haemostasis_confirmed, hm(15, 30));
  auto& running = chart.bolus(Agent::eptifibatide, 20, hm(17));
  running.bolus = false;
  running.end = exactly(hm(18, 10));
  const auto at_end = chart.plans(hm(18));
  ASSERT_EQ(at_end.front().state, CaseState::finished);
  for (const auto later : {hm(18, 10), hm(20), hm(60), hm(200)}) EXPECT_EQ(written_view(chart.plans(later)), written_view(at_end));
}

TEST(Found, ABadActIsNotForgottenBecauseItGetsOld) {
  Bedside bed = ready();
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::act; });
  bed.lab(Analyte::act, 165, hm(16, 50));
  bed.lab(Analyte::aptt, 44, hm(16, 52));
  EXPECT_EQ(bed.state_of(GateName::act, hm(17, 20)), GateState::closed);
  EXPECT_EQ(bed.state_of(GateName::act, hm(17, 20, 1)), GateState::needs);
  bed.lab(Analyte::aptt, 44, hm(17, 21));
  EXPECT_EQ(bed.state_of(GateName::act, hm(17, 22)), GateState::open) << "drawn when the ACT was no longer fresh";
}

// The newest result takes the place of the older ones also where it cannot be read: it is not known, which takes the worst row.
TEST(Found, AnUnreadableNewestValueIsNotTheOlderOne) {
  const auto spoilt = [](Analyte analyte, auto change) {
    auto chart = plain_chart(6);
    change(chart.lab(analyte, 100, hm(12, 50)));
    return rest_of(chart, hm(13, 10));
  };
  const auto no_value = [](Measurement& m) { m.value.reset(); };
  const auto over = [](Measurement& m) { m.value = compared(Comparator::greater, 8); };
  EXPECT_EQ(rest_of(plain_chart(6), hm(13, 10)), hours{6});
  EXPECT_EQ(spoilt(Analyte::platelets, no_value), hours{8});
  EXPECT_EQ(spoilt(Analyte::inr, no_value), hours{8});
  EXPECT_EQ(spoilt(Analyte::creatinine, no_value), hours{7});
  EXPECT_EQ(spoilt(Analyte::creatinine, over), hours{7});
  EXPECT_EQ(spoilt(Analyte::weight, no_value), hours{8}) << "clearance and BMI: 1 h and 1 h";
  EXPECT_EQ(spoilt(Analyte::height, over), hours{6}) << "any adult height will do";
  auto again = plain_chart(6);
  no_value(again.lab(Analyte::platelets, 100, hm(12, 50)));
  again.lab(Analyte::platelets, 180, hm(12, 55));
  EXPECT_EQ(rest_of(again, hm(13, 10)), hours{6}) << "a newer one can be read";
}

TEST(Found, AValueKnownByItsDayMovesNothingAtItsMidnight) {
  auto chart = plain_chart(6);
  chart.lab(Analyte::height, 150, hm(12)).at = Moment{hm(0), hm(23, 59, 59)};
  const auto before = chart.plan(hm(23, 35));
  ASSERT_TRUE(before.next_change);
  for (const Instant at : {hm(23, 59, 58), hm(23, 59, 59)})
    if (at < *before.next_change) { EXPECT_EQ(written_view(chart.plan(at)), written_view(before)); }
  EXPECT_EQ(step(chart.plan(hm(23, 59, 59)), Step::stand_and_walk).after_t0, step(before, Step::stand_and_walk).after_t0);
}

TEST(Found, ACheckAfterTheWalkIsNotMadeAhead) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 20));
  chart.done(Step::stand_and_walk, hm(20, 30));
  chart.check(hm(20, 47)).bleeding = Bleeding::ooze;
  const auto ahead = chart.plan(hm(20, 43));
  for (const auto& m : ahead.sites.front().milestones) EXPECT_FALSE(m.actual && *m.actual > hm(20, 43)) << name_of(m.step);
  EXPECT_EQ(step(chart.plan(hm(20, 47)), Step::check_after_walk).actual, hm(20, 47));
}

// Abciximab days before: the count may be 6 h old at the start. One of that day, at nobody knows what time, is not of the procedure.
TEST(Found, AGoodCountKnownByItsDayIsNoneOfTheProcedure) {
  const auto rest = [](double count, const Moment& drawn) {
    auto chart = plain_chart(6);
    auto& dose = chart.bolus(Agent::abciximab, 0, hm(12) - hours{150});
    dose.dose.reset();
    std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::platelets; });
    chart.lab(Analyte::platelets, count, hm(12)).at = drawn;
    return rest_of(chart, hm(13, 30));
  };
  const Moment day{hm(0), hm(23, 59, 59)};
  EXPECT_EQ(rest(220, exactly(hm(12, 10))), hours{6});
  EXPECT_EQ(rest(220, exactly(hm(5, 59))), hours{8}) << "too old at the start: not known";
  EXPECT_EQ(rest(220, day), hours{8});
  EXPECT_EQ(rest(80, day), hours{8}) << "a low one counts whenever it was";
}

// 170 h before the start is too long ago to tell what is taken at home, and stays so where the start is known only by its day.
TEST(Found, AStartKnownByItsDayWidensNoLookBack) {
  auto chart = plain_chart(6);
  std::erase_if(chart.record.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
  auto& dose = chart.bolus(Agent::edoxaban, 0, hm(12) - hours{170});
  dose.dose.reset();
  const auto home = [&] {
    const auto plan = chart.plan(hm(13, 30));
    for (const auto& gate : plan.sites.front().gates)
      if (gate.name == GateName::home_anticoagulants) return gate.state;
    return GateState::closed;
  };
  EXPECT_EQ(home(), GateState::needs);
  chart.index().start = Moment{hm(0), hm(23, 59, 59)};
  EXPECT_EQ(home(), GateState::needs);
  chart.index().start = exactly(hm(12));
  chart.record.administrations.back().start = chart.record.administrations.back().end = exactly(hm(12) - hours{150});
  EXPECT_EQ(home(), GateState::open);
}

TEST(Found, InTheSecondOfThePullNothingAheadCounts) {
  auto chart = plain_chart(6, Closure::mechanical);
  pull_at(chart, hm(14));
  chart.pressure(159, hm(14, 5));
  const auto hold = [&](Instant now) { return step(chart.plan(now), Step::end_compression).planned; };
  EXPECT_EQ(hold(hm(14)), hold(hm(14, 0, 1)));
  EXPECT_EQ(hold(hm(14)), hold(hm(14, 6)));
}

}  // namespace
}  // namespace clinical
