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
  for (const auto& m : chart.plan(hm(14, 4)).sites.front().milestones) EXPECT_FALSE(m.step == Step::check_site && m.actual && *m.actual > hm(14, 4)) << m.ordinal;
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

}  // namespace
}  // namespace clinical
