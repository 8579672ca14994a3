// Clocks at the bedside differ: what is stamped up to five minutes ahead of now is no conflict. A bad fact counts at once, a good one in its time.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart dry_at_1532() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}
bool alarmed(const CasePlan& plan, const char* trigger) { return std::ranges::find(plan.alerts, trigger, &Alert::trigger) != plan.alerts.end(); }

struct BadRow {
  const char* name;
  std::function<void(Chart&, Instant)> fact;
  std::function<bool(const CasePlan&)> seen;
};
TEST(StampedAhead, ABadFactCountsAtOnce) {
  const auto voided = [](const CasePlan& p) { return !p.sites.front().t0; };
  const auto alert = [](const char* trigger) { return [=](const CasePlan& p) { return alarmed(p, trigger); }; };
  const BadRow rows[] = {
      {"rebleed", [](Chart& c, Instant at) { c.event(rebleed, at); }, voided},
      {"pressed again", [](Chart& c, Instant at) { c.event(compression_started, at); }, voided},
      {"closure failed", [](Chart& c, Instant at) { c.event(closure_failed, at); }, voided},
      {"growing swelling", [](Chart& c, Instant at) { c.check(at).growth = true; }, voided},
      {"bleeding", [](Chart& c, Instant at) { c.check(at).bleeding = Bleeding::bleeding; }, alert("site-bleeding")},
      {"foot pulse absent", [](Chart& c, Instant at) { c.check(at).foot_pulse = FootPulse::absent; }, alert("limb-ischaemia")},
      {"systolic 85", [](Chart& c, Instant at) { c.pressure(85, at); }, alert("systolic-low")},
      {"systolic fallen by 30", [](Chart& c, Instant at) { c.pressure(98, at); }, alert("systolic-low")},
      {"haemoglobin fallen by 2", [](Chart& c, Instant at) { c.lab(Analyte::haemoglobin, 12, at); }, alert("haemoglobin-fall")},
      {"pulse 39", [](Chart& c, Instant at) { c.lab(Analyte::heart_rate, 39, at); }, alert("heart-rate")},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = dry_at_1532();
    row.fact(chart, hm(16, 6));
    EXPECT_TRUE(row.seen(chart.plan(hm(16, 1)))) << "five minutes ahead";
    EXPECT_TRUE(chart.plan(hm(16, 1)).conflicts.empty());
    EXPECT_FALSE(row.seen(chart.plan(hm(16, 0, 59)))) << "further ahead it is a conflict";
    EXPECT_FALSE(chart.plan(hm(16, 0, 59)).conflicts.empty());
    EXPECT_LE(*chart.plan(hm(16)).next_change, hm(16, 1));
    EXPECT_TRUE(row.seen(chart.plan(hm(16, 6))));
  }
}

TEST(StampedAhead, AHighPressureKeepsThePatientFlatAtOnce) {
  auto chart = dry_at_1532();
  chart.check(hm(21, 31));
  chart.pressure(120, hm(21, 31));
  EXPECT_EQ(step(chart.plan(hm(21, 32)), Step::stand_and_walk).status, StepStatus::due);
  chart.pressure(165, hm(21, 36));
  EXPECT_EQ(step(chart.plan(hm(21, 32)), Step::stand_and_walk).status, StepStatus::blocked);
}

TEST(StampedAhead, AGoodFactWaitsForItsTime) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  chart.event(haemostasis_confirmed, hm(15, 35));
  EXPECT_FALSE(chart.plan(hm(15, 32)).sites.front().t0);
  EXPECT_EQ(chart.plan(hm(15, 35)).sites.front().t0, hm(15, 35));
  chart.check(hm(15, 40)).bleeding = Bleeding::bleeding;
  for (const int minute : {45, 50}) chart.check(hm(15, minute));
  EXPECT_TRUE(alarmed(chart.plan(hm(15, 47)), "site-bleeding")) << "one dry check so far";
  EXPECT_FALSE(alarmed(chart.plan(hm(15, 50)), "site-bleeding"));
}

// A dose just ahead holds the sheath in; before the pull a clock that runs fast starts no hold.
TEST(StampedAhead, BeforeThePull) {
  auto chart = intervention_chart(6);
  chart.pressure(128, hm(15));
  chart.lab(Analyte::heart_rate, 70, hm(15));
  chart.check(hm(15));
  chart.lab(Analyte::act, 140, hm(15));
  EXPECT_EQ(step(chart.plan(hm(15, 1)), Step::remove_sheath).status, StepStatus::due);
  auto dosed = chart;
  dosed.bolus(Agent::heparin, 1000, hm(15, 4));
  EXPECT_EQ(step(dosed.plan(hm(15, 1)), Step::remove_sheath).status, StepStatus::blocked);
  chart.event(sheath_removed, hm(15, 4));
  chart.event(compression_started, hm(15, 4));
  EXPECT_EQ(chart.plan(hm(15, 1)).state, CaseState::sheath_in);
  EXPECT_EQ(chart.plan(hm(15, 4)).state, CaseState::compressing);
}

}  // namespace
}  // namespace clinical
