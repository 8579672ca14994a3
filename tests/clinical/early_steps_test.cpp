// Up, sitting or head up before it was time: told, and what was early does not stand for what is due. The model gives no rule for it: the levels, and that two
// looks end it, are common practice, no source. Cases are invented.
#include <algorithm>

#include "clinical/change.h"
#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  const auto found = std::ranges::find(plan.alerts, trigger, &Alert::trigger);
  return found == plan.alerts.end() ? nullptr : &*found;
}
void expect_alert(const CasePlan& plan, const char* trigger, AlertLevel level, const char* code) {
  const auto* found = alert(plan, trigger);
  ASSERT_TRUE(found) << trigger;
  EXPECT_EQ(found->level, level) << trigger;
  EXPECT_EQ(found->why.code, code);
}

struct Up {
  Step step;
  const char *trigger, *word;
};
constexpr Up kUp[] = {{Step::sit_up, "sat-early", "sat"}, {Step::stand_and_walk, "up-early", "up"}};

TEST(EarlySteps, UpWithTheSheathInIsACall) {
  for (const auto& [done, trigger, word] : kUp) {
    Chart chart = plain_chart(6);
    chart.event(sheath_inserted, hm(12));
    chart.done(done, hm(14, 30));
    const auto plan = chart.plan(hm(14, 31));
    expect_alert(plan, trigger, AlertLevel::urgent, (std::string("alert.") + word + "-with-sheath").c_str());
    EXPECT_EQ(step(plan, done).status, StepStatus::expected) << "it is still to come";
    chart.check(hm(14, 35));
    chart.check(hm(14, 40)).foot_pulse.reset();
    EXPECT_TRUE(alert(chart.plan(hm(14, 41)), trigger)) << "one whole look";
    chart.check(hm(14, 45));
    expect_alert(chart.plan(hm(14, 46)), trigger, AlertLevel::tell, (std::string("alert.") + word + "-with-sheath").c_str());
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));
    chart.check(hm(15, 40));
    EXPECT_TRUE(alert(chart.plan(hm(15, 45)), trigger)) << "one look after haemostasis";
    chart.check(hm(15, 55));
    EXPECT_FALSE(alert(chart.plan(hm(16)), trigger));
  }
}

TEST(EarlySteps, UpWhileItIsPressedIsACall) {
  for (const auto& [done, trigger, word] : kUp) {
    Chart chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.done(done, hm(15, 10));
    expect_alert(chart.plan(hm(15, 11)), trigger, AlertLevel::urgent, (std::string("alert.") + word + "-before-haemostasis").c_str());
    chart.event(haemostasis_confirmed, hm(15, 25));
    const auto plan = chart.plan(hm(15, 30));
    EXPECT_TRUE(alert(plan, trigger)) << "haemostasis does not end it";
    EXPECT_TRUE(plan.sites.front().high_watch);
    EXPECT_NE(step(plan, done).status, StepStatus::done);
  }
}

TEST(EarlySteps, UpAfterARebleedAndBeforeItIsDryAgainIsACall) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  chart.event(rebleed, hm(16));
  chart.done(Step::stand_and_walk, hm(16, 5));
  expect_alert(chart.plan(hm(16, 6)), "up-early", AlertLevel::urgent, "alert.up-before-haemostasis");
  chart.record.tasks.back().changed = exactly(hm(15, 40));
  EXPECT_FALSE(alert(chart.plan(hm(16, 6)), "up-early")) << "that T0 stood then; what it did is a rebleed now";
}

class EarlyInRest : public testing::Test {
 protected:
  EarlyInRest() {
    chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));  // head 17:25, sitting 20:55, up 21:25, discharge 22:25
  }
  Chart chart;
};

TEST_F(EarlyInRest, SittingUpTooSoonIsTold) {
  chart.done(Step::sit_up, hm(16, 30));
  auto plan = chart.plan(hm(16, 35));
  expect_alert(plan, "sat-early", AlertLevel::tell, "alert.sat-early");
  EXPECT_EQ(step(plan, Step::sit_up).actual, hm(16, 30)) << "it happened";
  EXPECT_TRUE(plan.sites.front().high_watch);
  chart.check(hm(16, 40));
  chart.check(hm(16, 40));
  EXPECT_TRUE(alert(chart.plan(hm(16, 50)), "sat-early")) << "one look, charted twice";
  chart.check(hm(16, 50));
  EXPECT_FALSE(alert(chart.plan(hm(16, 50)), "sat-early"));
}

TEST_F(EarlyInRest, TheHeadRaisedTooSoonIsTold) {
  chart.done(Step::raise_head, hm(15, 34));
  const auto plan = chart.plan(hm(15, 35));
  expect_alert(plan, "head-early", AlertLevel::tell, "alert.head-early");
  EXPECT_FALSE(plan.sites.front().high_watch);
}

TEST_F(EarlyInRest, InTimeIsTold0fNothing) {
  chart.done(Step::raise_head, hm(17, 25));
  chart.done(Step::sit_up, hm(20, 55));
  const auto plan = chart.plan(hm(21));
  EXPECT_FALSE(alert(plan, "head-early"));
  EXPECT_FALSE(alert(plan, "sat-early"));
}

TEST_F(EarlyInRest, AnEarlyDischargeCheckDoesNotCount) {
  chart.done(Step::discharge_check, hm(18));
  auto plan = chart.plan(hm(18, 10));
  expect_alert(plan, "discharge-check-early", AlertLevel::tell, "alert.discharge-check-early");
  EXPECT_EQ(step(plan, Step::discharge_check).status, StepStatus::expected);
  EXPECT_EQ(step(plan, Step::discharge_check).earliest, hm(22, 25));
  EXPECT_EQ(step(plan, Step::discharge_check).ordinal, 1) << "a Task of its own";
  EXPECT_EQ(step(plan, Step::discharge_check, 1).actual, hm(18));
  const auto tasks = wanted(plan, cautious(), {Intent::proposal, false});
  EXPECT_EQ(std::ranges::count_if(tasks.items, [](const Item& i) { return i.key.step == Step::discharge_check && i.key.ordinal == 1; }), 0) << "not released yet";
  chart.done(Step::discharge_check, hm(22, 25));
  EXPECT_EQ(step(chart.plan(hm(22, 30)), Step::discharge_check).actual, hm(22, 25));
}

TEST_F(EarlyInRest, ADischargeCheckCountsFromSevenMinutesBeforeItsTimeOn) {
  chart.done(Step::discharge_check, hm(22, 18));  // the model: a check counts from 7 min before it
  EXPECT_EQ(step(chart.plan(hm(22, 30)), Step::discharge_check).status, StepStatus::done);
  EXPECT_FALSE(alert(chart.plan(hm(22, 30)), "discharge-check-early"));
  chart.record.tasks.back().changed = exactly(hm(22, 17, 59));
  EXPECT_NE(step(chart.plan(hm(22, 30)), Step::discharge_check).status, StepStatus::done);
  EXPECT_TRUE(alert(chart.plan(hm(22, 30)), "discharge-check-early"));
}

TEST_F(EarlyInRest, AfterTheWalkTheDischargeCheckIsAnHourLater) {
  chart.done(Step::stand_and_walk, hm(22));
  chart.done(Step::discharge_check, hm(22, 30));
  const auto plan = chart.plan(hm(22, 40));
  EXPECT_EQ(step(plan, Step::discharge_check).earliest, hm(23));
  EXPECT_TRUE(alert(plan, "discharge-check-early"));
}

// Nothing allowed it: no length of the rest is given, so nobody may say that the walk or the sitting up was in time.
class UpWithoutATime : public testing::Test {
 protected:
  static Chart resting(int french = 6) {
    Chart chart = plain_chart(french);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));
    return chart;
  }
  static void expect_told(Chart chart, const char* why) {
    SCOPED_TRACE(why);
    const auto kept = chart.record.tasks;
    chart.done(Step::stand_and_walk, hm(16, 20));
    const auto up = chart.plan(hm(16, 25));
    expect_alert(up, "up-early", AlertLevel::tell, "alert.up-early");
    EXPECT_NE(step(up, Step::stand_and_walk).status, StepStatus::done) << "it is no first walk";
    chart.record.tasks = kept;
    chart.done(Step::sit_up, hm(16, 20));
    const auto sat = chart.plan(hm(16, 25));
    EXPECT_TRUE(alert(sat, "sat-early"));
    EXPECT_TRUE(sat.sites.front().high_watch);
  }
};

TEST_F(UpWithoutATime, AWalkWhileAPhysicianIsToSetTheRestIsToldAndDoesNotCount) {
  Chart asked = resting();
  auto& order = asked.record.orders.emplace_back();
  order.kind = OrderKind::bed_rest;
  order.title = "Flat until morning (invented)";
  order.unclear = true;
  order.written = exactly(hm(15, 30));
  ASSERT_EQ(step(asked.plan(hm(16)), Step::stand_and_walk).why->code, "rest.ask-order");
  expect_told(asked, "an order that cannot be read");
  asked.done(Step::sit_up, hm(22));
  expect_alert(asked.plan(hm(22, 5)), "sat-early", AlertLevel::tell, "alert.sat-untimed");
  asked.done(Step::stand_and_walk, hm(22));
  EXPECT_TRUE(alert(asked.plan(hm(22, 5)), "up-early")) << "the rule alone would allow it, and somebody ordered more";
  asked.decide(Step::stand_and_walk, "360 min", hm(22, 10));
  EXPECT_FALSE(alert(asked.plan(hm(22, 15)), "up-early")) << "decided";
  EXPECT_EQ(step(asked.plan(hm(22, 15)), Step::stand_and_walk).actual, hm(22));
}

TEST_F(UpWithoutATime, AWalkOutsideTheScopeIsToldAndDoesNotCount) {
  const Chart large = resting(14);
  ASSERT_TRUE(alert(large.plan(hm(16)), "timeline-withheld"));
  expect_told(large, "a sheath of 14 French");
}

TEST_F(UpWithoutATime, AWalkWhileTheTimesContradictIsTold) {
  Chart twice = resting();
  twice.event(sheath_removed, hm(15, 50));
  ASSERT_TRUE(alert(twice.plan(hm(16)), "timeline-withheld"));
  expect_told(twice, "out twice");
}

TEST_F(UpWithoutATime, AWalkOnAnIschaemicLegIsNotTheFirstOne) {
  Chart limb = resting();
  limb.check(hm(16, 16)).foot_pulse = FootPulse::absent;
  ASSERT_TRUE(alert(limb.plan(hm(16, 17)), "limb-ischaemia"));
  expect_told(limb, "no pulse at the foot");
  Chart late = resting();
  late.done(Step::stand_and_walk, hm(21, 30));
  late.check(hm(21, 50)).foot_pulse = FootPulse::absent;
  const auto plan = late.plan(hm(21, 55));
  ASSERT_TRUE(alert(plan, "limb-ischaemia"));
  EXPECT_FALSE(alert(plan, "up-early"));
  EXPECT_EQ(step(plan, Step::stand_and_walk).actual, hm(21, 30)) << "it was in time, and the leg came after it";
}

}  // namespace
}  // namespace clinical
