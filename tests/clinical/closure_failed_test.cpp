// A closure device or suture that does not hold, late or without anybody saying so. Cases are invented; that pressing as long as without a device means that it
// failed is common practice, no source.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  const auto found = std::ranges::find(plan.alerts, trigger, &Alert::trigger);
  return found == plan.alerts.end() ? nullptr : &*found;
}

Chart device(Closure closure = Closure::device) {
  Chart chart = intervention_chart(6, closure);
  pull_at(chart, hm(13));
  chart.record.access_events.pop_back();  // nobody presses
  return chart;
}

TEST(ClosureFailed, AfterHaemostasisItIsACallAndTheClockStartsAgain) {
  Chart chart = device();
  chart.event(haemostasis_confirmed, hm(13, 5));
  chart.event(closure_failed, hm(15));
  auto plan = chart.plan(hm(15, 5));
  ASSERT_TRUE(alert(plan, "closure-failed"));
  EXPECT_EQ(alert(plan, "closure-failed")->level, AlertLevel::urgent);
  EXPECT_TRUE(alert(plan, "rebleed"));
  EXPECT_FALSE(plan.sites.front().t0);
  EXPECT_EQ(plan.sites.front().rebleeds, std::vector{hm(15)});
  chart.event(compression_started, hm(15, 6));
  chart.event(haemostasis_confirmed, hm(15, 40));
  plan = chart.plan(hm(15, 45));
  EXPECT_EQ(plan.sites.front().rebleeds, std::vector{hm(15)}) << "the same one";
  EXPECT_EQ(step(plan, Step::stand_and_walk).earliest, hm(23, 40)) << "6 h of the failed row and 2 h of the rebleed";
  ASSERT_TRUE(alert(plan, "closure-failed"));
  EXPECT_EQ(alert(plan, "closure-failed")->level, AlertLevel::tell);
  chart.check(hm(15, 50));
  chart.check(hm(16));
  EXPECT_FALSE(alert(chart.plan(hm(16, 5)), "closure-failed"));
}

TEST(ClosureFailed, BeforeAnyHaemostasisNobodyIsCalledForIt) {
  Chart chart = device();
  chart.event(closure_failed, hm(13, 1));
  EXPECT_FALSE(alert(chart.plan(hm(13, 5)), "closure-failed"));
}

struct Held {
  const char* name;
  Closure closure;
  int minutes;
  bool failed;
};
TEST(ClosureFailed, PressedAsLongAsWithoutItCountsAsFailed) {
  for (const auto& held : {Held{"a touch-up", Closure::device, 14, false}, Held{"15 min", Closure::device, 15, true}, Held{"22 min", Closure::device, 22, true},
                           Held{"suture", Closure::suture, 22, true}, Held{"by hand", Closure::manual, 22, false}}) {
    Chart chart = device(held.closure);
    chart.event(compression_started, hm(13, 1));
    chart.event(haemostasis_confirmed, hm(13, 1 + held.minutes));
    const auto plan = chart.plan(hm(13, 40));
    EXPECT_EQ(alert(plan, "closure-failed") != nullptr, held.failed) << held.name;
    if (held.closure != Closure::manual) {
      EXPECT_EQ(step(plan, Step::end_compression).planned, held.failed ? minutes{25} : minutes{5}) << held.name;
    }
    if (held.failed) {
      EXPECT_GE(*step(plan, Step::stand_and_walk).after_t0, hours{6}) << held.name;
    }
  }
}

// The model: unknown is never better (law 2). Nothing tells that no hand pressed.
TEST(ClosureFailed, DryLateWithoutAStartOfPressingCountsAsFailedAndIsAskedAbout) {
  for (const auto& held : {Held{"dry soon", Closure::device, 14, false}, Held{"15 min", Closure::device, 15, true}, Held{"suture", Closure::suture, 24, true}, Held{"by hand", Closure::manual, 24, false}}) {
    Chart chart = device(held.closure);
    chart.event(haemostasis_confirmed, hm(13, held.minutes));
    const auto plan = chart.plan(hm(13, 40));
    const auto* told = alert(plan, "closure-failed");
    ASSERT_EQ(told != nullptr, held.failed) << held.name;
    const bool asked = std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::compression_start; });
    EXPECT_EQ(asked, held.failed) << held.name;
    if (!held.failed) continue;
    EXPECT_EQ(told->why, (Reason{"alert.closure-dry-late", {{"from", hm(13)}, {"length", seconds{minutes{held.minutes}}}}})) << held.name;
    EXPECT_GE(*step(plan, Step::stand_and_walk).after_t0, hours{6}) << held.name;
  }
  Chart pressed_late = device();
  pressed_late.event(compression_started, hm(13, 12));
  pressed_late.event(haemostasis_confirmed, hm(13, 20));
  EXPECT_FALSE(alert(pressed_late.plan(hm(13, 40)), "closure-failed")) << "a touch-up, and somebody says so";
}

TEST(ClosureFailed, WhoeverSaysThatItFailedIsNotAskedAgain) {
  Chart chart = device();
  chart.event(closure_failed, hm(13, 1));
  chart.event(compression_started, hm(13, 1));
  chart.event(haemostasis_confirmed, hm(13, 25));
  EXPECT_FALSE(alert(chart.plan(hm(13, 40)), "closure-failed"));
}

}  // namespace
}  // namespace clinical
