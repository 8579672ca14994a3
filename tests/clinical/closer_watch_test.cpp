// Closer watching is never milder: what counts as missed, and what a late fact cannot make missed.
#include <algorithm>

#include "clinical/alerts.h"
#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Alert* missed(const CasePlan& plan) {
  const auto found = std::ranges::find(plan.alerts, "missed-check", &Alert::trigger);
  return found == plan.alerts.end() ? nullptr : &*found;
}
AlertLevel level_of(const CasePlan& plan) { return missed(plan) ? missed(plan)->level : AlertLevel::tell; }

/// Dry at 14:25 after the planned 20 min, nothing that lengthens: the usual series, 14:40, 14:55, 15:10, 15:25, 15:55, 16:25, 16:55, 17:25, 18:25 ...
Chart dry_at_1425() {
  Chart chart = plain_chart(6);
  chart.index().uncomplicated = true;
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  return chart;
}
void look(Chart& chart, std::initializer_list<Instant> times) {
  for (const Instant at : times) {
    chart.check(at);
    chart.pressure(124, at);
  }
}

TEST(CloserWatch, ALookAtAStepIsNoneOfTheSeries) {
  auto chart = dry_at_1425();
  look(chart, {hm(14, 40), hm(14, 55), hm(15, 10), hm(15, 25), hm(15, 55), hm(16, 25), hm(16, 55), hm(17, 25), hm(18, 25), hm(19, 25)});
  // Head at 16:25, sitting at 19:55, walking at 20:25. Nobody looked at 19:55: told, no more, for the step waits for its look anyway.
  const auto plan = chart.plan(hm(20, 10));
  ASSERT_TRUE(missed(plan));
  EXPECT_EQ(missed(plan)->level, AlertLevel::tell);
  EXPECT_EQ(step(plan, Step::sit_up).status, StepStatus::blocked);
}

// A step that a further risk puts off takes its look with it: what it leaves must not be milder.
TEST(CloserWatch, AFurtherRiskAfterTheWalkBringsNothingForward) {
  Chart chart = plain_chart(8, Closure::device);
  pull_at(chart, hm(14));
  chart.event(compression_ended, hm(14));
  chart.event(haemostasis_confirmed, hm(14));
  chart.risk(RiskKind::graft);
  look(chart, {hm(14, 15), hm(14, 30), hm(14, 45), hm(15), hm(15, 15), hm(15, 30), hm(15, 45), hm(16), hm(16, 30), hm(17), hm(17, 30), hm(18), hm(19), hm(20), hm(21), hm(22)});
  chart.check(hm(20)).swelling = amount(2, "cm");
  chart.check(hm(23));
  chart.done(Step::stand_and_walk, hm(22));  // with the further risk too the rest is over
  const auto before = step(chart.plan(hm(23)), Step::discharge_check);
  chart.index().punctures = 2;
  const auto after = step(chart.plan(hm(23)), Step::discharge_check);
  EXPECT_EQ(after.status, before.status);
  EXPECT_FALSE(before.status != StepStatus::due && after.status == StepStatus::due);
}

TEST(CloserWatch, TwoLooksEndARunWhicheverSeriesTheyBelongTo) {
  auto usual = dry_at_1425();
  look(usual, {hm(15, 30), hm(15, 41)});   // 14:40, 14:55 and 15:10 missed; 15:30 is late for 15:25
  auto closer = usual;
  closer.index().high_stick = true;        // every quarter: 15:40 as well
  for (const Instant now : {hm(15, 9), hm(15, 29), hm(15, 31), hm(15, 42), hm(16, 30), hm(18), hm(23), hm(30)})
    EXPECT_GE(level_of(closer.plan(now)), level_of(usual.plan(now))) << testing::PrintToString(now);
  EXPECT_EQ(level_of(usual.plan(hm(15, 31))), AlertLevel::urgent);
  EXPECT_FALSE(missed(usual.plan(hm(15, 42))));
}

// The closer series looks every 4 h from 8 h on, an hour later than the usual one from 7 h on: two of these missed are two missed.
TEST(CloserWatch, TheUsualSeriesGoesOnBesideIt) {
  auto usual = dry_at_1425();
  look(usual, {hm(14, 40), hm(14, 55), hm(15, 10), hm(15, 25), hm(15, 40), hm(15, 55), hm(16, 10), hm(16, 25), hm(16, 55), hm(17, 25), hm(17, 55), hm(18, 25), hm(19, 25), hm(20, 25), hm(21, 25), hm(22, 25)});
  auto closer = usual;
  closer.index().high_stick = true;
  for (int minute = 0; minute < 16 * 60; minute += 7) {
    const Instant now = hm(22, 30) + minutes{minute};
    EXPECT_GE(level_of(closer.plan(now)), level_of(usual.plan(now))) << testing::PrintToString(now);
  }
  EXPECT_EQ(level_of(usual.plan(hm(29, 40))), AlertLevel::urgent) << "25:25 and 29:25";
}

TEST(CloserWatch, HeparinAgainForgetsNoMissedCheck) {
  auto chart = dry_at_1425();
  EXPECT_EQ(level_of(chart.plan(hm(15, 30))), AlertLevel::urgent);
  chart.bolus(Agent::heparin, 5000, hm(15, 29));
  EXPECT_EQ(level_of(chart.plan(hm(15, 30))), AlertLevel::urgent);
}

// Common practice, no source: nobody can miss a check of which nobody could know.
TEST(CloserWatch, ALateFactMakesNothingMissedThatWasNotDueThen) {
  auto chart = dry_at_1425();
  look(chart, {hm(14, 40), hm(14, 55), hm(15, 10), hm(15, 25), hm(15, 55)});
  EXPECT_FALSE(missed(chart.plan(hm(16, 22))));
  chart.index().high_stick = true;   // every quarter of an hour to 16:25
  EXPECT_TRUE(missed(chart.plan(hm(16, 22)))) << "16:10, where nobody keeps since when the closer watch was told of";
  chart.index().closer_since.emplace();
  EXPECT_FALSE(missed(chart.plan(hm(16, 22)))) << "not before now";
  chart.index().closer_since->emplace("Procedure/p1", hm(16, 20));
  EXPECT_FALSE(missed(chart.plan(hm(16, 22))));
  EXPECT_TRUE(missed(chart.plan(hm(16, 36)))) << "16:25, of both series";
  // What was due then is missed as before.
  std::erase_if(chart.record.checks, [](const SiteCheck& c) { return c.at->latest >= hm(15) && c.at->latest < hm(16, 20); });
  EXPECT_EQ(level_of(chart.plan(hm(16, 20))), AlertLevel::urgent) << "15:10, 15:25 and 15:55 of the usual series";
}

TEST(CloserWatch, NumbersOfTheChecksStayApartWhereTheSeriesChanges) {
  auto chart = dry_at_1425();
  chart.index().high_stick = true;
  chart.index().closer_since.emplace(std::map<std::string, Instant>{{"Procedure/p1", hm(16, 30)}});
  std::vector<int> numbers;
  const auto plan = chart.plan(hm(16, 40));
  for (const auto& m : plan.sites.front().milestones)
    if (m.step == Step::check_site) numbers.push_back(m.ordinal);
  auto once = numbers;
  std::ranges::sort(once);
  EXPECT_EQ(std::unique(once.begin(), once.end()), once.end());
}

}  // namespace
}  // namespace clinical
