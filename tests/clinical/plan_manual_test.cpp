// The whole course of a hand-held artery: times from T0, statuses as the clock runs, states of the case.
#include "course_support.h"

namespace clinical {
namespace {

Chart six_french_intervention() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(18, 12));
  return chart;
}

// Rest row 6 F: 6 h (1 h per French), head from 2 h, sitting 30 min before the end; hold 20 min with an intervention. Institutional rule of
// 1 h per French (7 F = 7 h) as told in Vlasic, J Invasive Cardiol 2001;13(12); 18 min for 6 F at 3 min per French rounded up to 20.
TEST(ManualSixFrench, TimesCountFromHaemostasis) {
  Chart chart = six_french_intervention();
  chart.event(AccessEventKind::haemostasis_confirmed, hm(18, 32));
  const auto plan = chart.plan(hm(18, 33));
  EXPECT_EQ(plan.state, CaseState::resting);
  EXPECT_EQ(plan.sites.front().t0, hm(18, 32));
  EXPECT_EQ(at(plan, Step::raise_head), hm(20, 32));
  EXPECT_EQ(at(plan, Step::sit_up), hm(24, 2));
  EXPECT_EQ(at(plan, Step::stand_and_walk), hm(24, 32));
  EXPECT_EQ(at(plan, Step::discharge_check), hm(25, 32));
  EXPECT_EQ(plan.up_at, hm(24, 32));
  EXPECT_EQ(plan.up_site, "Procedure/p1");
  EXPECT_EQ(step(plan, Step::stand_and_walk).planned, minutes{360});
  EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::expected);
}

TEST(ManualSixFrench, PhasesFollowTheSheath) {
  Chart chart = six_french_intervention();
  const auto plan = chart.plan(hm(18, 13));
  EXPECT_EQ(plan.state, CaseState::compressing);
  EXPECT_FALSE(plan.sites.front().t0);
  EXPECT_EQ(step(plan, Step::remove_sheath).status, StepStatus::done);
  EXPECT_EQ(step(plan, Step::remove_sheath).actual, hm(18, 12));
  EXPECT_EQ(at(plan, Step::firm_compression), hm(18, 12));
  EXPECT_EQ(at(plan, Step::partial_compression), hm(18, 24));
  EXPECT_EQ(at(plan, Step::light_compression), hm(18, 29));
  EXPECT_EQ(at(plan, Step::end_compression), hm(18, 32));
  EXPECT_EQ(step(plan, Step::end_compression).planned, minutes{20});
  const auto& walk = step(plan, Step::stand_and_walk);
  EXPECT_EQ(walk.status, StepStatus::expected);
  EXPECT_FALSE(walk.earliest);
  EXPECT_EQ(walk.after_t0, minutes{360});
  EXPECT_FALSE(plan.up_at);
}

TEST(ManualSixFrench, GetsUpOnlyWithAFreshDryCheckAndPressure) {
  Chart chart = six_french_intervention();
  chart.event(AccessEventKind::haemostasis_confirmed, hm(18, 32));
  auto plan = chart.plan(hm(20, 32));
  EXPECT_EQ(step(plan, Step::raise_head).status, StepStatus::blocked);
  EXPECT_FALSE(step(plan, Step::raise_head).earliest);
  EXPECT_EQ(step(plan, Step::raise_head).expected, hm(20, 32));
  ASSERT_TRUE(step(plan, Step::raise_head).why);
  EXPECT_EQ(step(plan, Step::raise_head).why->code, "rest.check-not-fresh");

  chart.check(hm(20, 30));
  plan = chart.plan(hm(20, 32));
  EXPECT_EQ(step(plan, Step::raise_head).why->code, "rest.pressure-not-fresh");
  chart.pressure(130, hm(20, 31));
  plan = chart.plan(hm(20, 32));
  EXPECT_EQ(step(plan, Step::raise_head).status, StepStatus::due);
  EXPECT_EQ(step(plan, Step::raise_head).earliest, hm(20, 32));
  EXPECT_TRUE(step(plan, Step::raise_head).released);
}

TEST(ManualSixFrench, WalkingAndAfter) {
  Chart chart = six_french_intervention();
  chart.event(AccessEventKind::haemostasis_confirmed, hm(18, 32));
  chart.check(hm(24, 31));
  chart.pressure(125, hm(24, 31));
  chart.done(Step::stand_and_walk, hm(24, 40));
  const auto plan = chart.plan(hm(24, 45));
  EXPECT_EQ(plan.state, CaseState::walking);
  EXPECT_EQ(plan.up_at, hm(24, 40));
  EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::done);
  EXPECT_EQ(step(plan, Step::sit_up).status, StepStatus::cancelled);
  EXPECT_EQ(at(plan, Step::discharge_check), hm(25, 40));   // 60 min after the walk
  EXPECT_EQ(at(plan, Step::check_after_walk), hm(24, 55));
}

TEST(ManualSixFrench, FinishesTwoDaysAfterHaemostasisOrAtDischarge) {
  Chart chart = six_french_intervention();
  chart.event(AccessEventKind::haemostasis_confirmed, hm(18, 32));
  EXPECT_EQ(chart.plan(hm(18 + 48, 31)).state, CaseState::resting);
  const auto plan = chart.plan(hm(18 + 48, 32));
  EXPECT_EQ(plan.state, CaseState::finished);
  EXPECT_FALSE(plan.valid_until);
  EXPECT_FALSE(plan.next_change);

  Encounter stay;
  stay.source = {"Encounter/e", "1", false};
  stay.start = exactly(hm(9));
  stay.end = exactly(hm(27));
  chart.record.encounters.push_back(stay);
  EXPECT_EQ(chart.plan(hm(27)).state, CaseState::finished);
  EXPECT_EQ(chart.plan(hm(26, 59)).state, CaseState::resting);
}

TEST(ManualSixFrench, SheathInBeforeThePull) {
  Chart chart = intervention_chart(6);
  const auto plan = chart.plan(hm(13, 1));
  EXPECT_EQ(plan.state, CaseState::sheath_in);
  EXPECT_FALSE(step(plan, Step::remove_sheath).earliest);
  EXPECT_EQ(step(plan, Step::firm_compression).status, StepStatus::blocked);
  EXPECT_EQ(step(plan, Step::firm_compression).planned, minutes{12});
  EXPECT_EQ(step(plan, Step::partial_compression).planned, minutes{5});
  EXPECT_EQ(step(plan, Step::light_compression).planned, minutes{3});
  EXPECT_EQ(step(plan, Step::check_site).earliest, hm(13, 15));
  EXPECT_EQ(plan.valid_until, hm(15));
}

TEST(ManualSixFrench, EveryLineOfTheArithmeticHasARule) {
  Chart chart = six_french_intervention();
  chart.event(AccessEventKind::haemostasis_confirmed, hm(18, 32));
  const auto plan = chart.plan(hm(18, 33));
  const auto& basis = step(plan, Step::stand_and_walk).basis;
  ASSERT_GE(basis.size(), 3u);
  EXPECT_EQ(basis.front().rule, "rest.artery.per-french");
  EXPECT_FALSE(basis.front().source.empty());
  EXPECT_EQ(basis.back().arithmetic.code, "sum.rest");
  for (const auto& line : basis) EXPECT_FALSE(line.arithmetic.code.empty());
}

}  // namespace
}  // namespace clinical
