// Check series, which check counts for which time, missed checks, and alerts from recorded facts.
#include <algorithm>

#include "clinical/alerts.h"
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

// Minutes after `from` of the checks listed, without those at the getting-up times.
std::vector<int> offsets(const CasePlan& plan, Instant from) {
  std::vector<int> found;
  for (const auto& m : plan.sites.front().milestones)
    if (m.step == Step::check_site && m.ordinal % 10000 < 2000) found.push_back(static_cast<int>((*m.earliest - from).count() / 60));
  return found;
}

const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  for (const auto& a : plan.alerts)
    if (a.trigger == trigger) return &a;
  return nullptr;
}

// q15 x4, q30 x4, q1h x4, then q4h to 24 h: a scheme of intensive-care nurses, common practice.
TEST(CheckSeries, StandardFromHaemostasisForADay) {
  const auto plan = dry_at_1532().plan(hm(15, 33));
  EXPECT_FALSE(plan.sites.front().high_watch);
  EXPECT_TRUE(plan.sites.front().watched_for.empty());
  EXPECT_EQ(offsets(plan, hm(15, 32)), (std::vector<int>{15, 30, 45, 60, 90, 120, 150, 180, 240, 300, 360, 420, 660, 900, 1140, 1380}));
}

// q15 x8, q30 x4, q1h x4, then q4h: common practice for higher risk.
TEST(CheckSeries, HighWhereSomethingLengthens) {
  auto chart = dry_at_1532();
  chart.index().high_stick = true;
  const auto plan = chart.plan(hm(15, 33));
  EXPECT_TRUE(plan.sites.front().high_watch);
  EXPECT_EQ(plan.sites.front().watched_for, (std::vector<Reason>{{"watch.closer.early", {}}, {"watch.closer.recorded", {{"what", std::string("@add.puncture")}}}})) << "the high stick lengthens the hold";
  EXPECT_EQ(offsets(plan, hm(15, 32)),
            (std::vector<int>{15, 30, 45, 60, 75, 90, 105, 120, 150, 180, 210, 240, 300, 360, 420, 480, 720, 960, 1200, 1440}));
}

TEST(CheckSeries, SheathInEveryQuarterThenHourly) {
  const auto plan = intervention_chart(6).plan(hm(16, 10));
  EXPECT_EQ(offsets(plan, hm(13)), (std::vector<int>{15, 30, 45, 60, 120, 180, 240, 300, 360})) << "to the end of the valid hours, and one more";
}

TEST(CheckSeries, EveryFiveMinutesUnderTheHand) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15));
  EXPECT_EQ(offsets(chart.plan(hm(15, 1)), hm(15)), (std::vector<int>{5, 10, 15, 20, 25}));
}

TEST(CheckSeries, ADeviceIsLookedAtEveryFiveMinutesThenEveryFifteenAtLowPressure) {
  auto chart = plain_chart(6, Closure::mechanical);
  pull_at(chart, hm(15));
  const auto found = offsets(chart.plan(hm(15, 1)), hm(15));
  const std::vector<int> start(found.begin(), found.begin() + 11);
  EXPECT_EQ(start, (std::vector<int>{5, 10, 15, 20, 25, 30, 35, 40, 45, 60, 75}));
}

TEST(CheckSeries, BeginsAnewAfterARebleedAndAfterHeparin) {
  auto chart = dry_at_1532();
  chart.bolus(Agent::heparin, 2000, hm(17));
  EXPECT_EQ(offsets(chart.plan(hm(17, 1)), hm(17)).front(), 15);
  chart.event(compression_started, hm(18));
  chart.event(haemostasis_confirmed, hm(18, 30));
  EXPECT_EQ(offsets(chart.plan(hm(18, 31)), hm(18, 30)).front(), 15);
}

TEST(CheckSeries, ACheckIsDueAtEachGettingUpTime) {
  const auto plan = dry_at_1532().plan(hm(15, 33));
  for (const Instant at : {hm(21, 2), hm(22, 32)})   // sit up, discharge; the head and the walk fall on the grid
    EXPECT_TRUE(std::ranges::any_of(plan.sites.front().milestones, [&](const Milestone& m) { return m.step == Step::check_site && m.earliest == at; }));
}

struct CountsRow {
  const char* name;
  Instant made;
  bool first, second;   // counts for the checks due 15:47 and 16:02
};
TEST(CheckMatching, FromSevenMinutesBeforeToTheNextOne) {
  const CountsRow rows[] = {
      {"seven minutes early", hm(15, 40), true, false},
      {"earlier", hm(15, 39, 59), false, false},
      {"on time", hm(15, 47), true, false},
      {"eight minutes before the next", hm(15, 54), true, false},
      {"late for one, early for the next", hm(15, 55), true, true},
      {"at the next", hm(16, 2), false, true},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = dry_at_1532();
    chart.check(row.made);
    const auto plan = chart.plan(hm(16, 3));
    EXPECT_EQ(step(plan, Step::check_site, 0).status == StepStatus::done, row.first);
    EXPECT_EQ(step(plan, Step::check_site, 1).status == StepStatus::done, row.second);
  }
}

TEST(CheckMatching, AnIncompleteOneDoesNotCount) {
  auto chart = dry_at_1532();
  chart.check(hm(15, 47)).foot_pulse.reset();
  EXPECT_EQ(step(chart.plan(hm(15, 50)), Step::check_site).status, StepStatus::due);
}

TEST(MissedChecks, OneIsToldTwoAreUrgentAndTheNextCheckClears) {
  auto chart = dry_at_1532();
  EXPECT_FALSE(alert(chart.plan(hm(15, 57)), "missed-check"));
  auto plan = chart.plan(hm(15, 57, 1));
  ASSERT_TRUE(alert(plan, "missed-check"));
  EXPECT_EQ(alert(plan, "missed-check")->level, AlertLevel::tell);
  EXPECT_TRUE(step(plan, Step::check_site).late);
  plan = chart.plan(hm(16, 13));
  EXPECT_EQ(alert(plan, "missed-check")->level, AlertLevel::urgent);
  EXPECT_EQ(step(plan, Step::check_site).status, StepStatus::cancelled);
  chart.check(hm(16, 14));
  EXPECT_FALSE(alert(chart.plan(hm(16, 15)), "missed-check"));
}

// Nobody can miss what nobody was told of: common practice, no source.
TEST(MissedChecks, WhatWasDueBeforeTheServiceKnewOfTheCaseIsNotMissed) {
  auto chart = intervention_chart(6);
  EXPECT_EQ(alert(chart.plan(hm(15, 5)), "missed-check")->level, AlertLevel::urgent);
  chart.index().known_since = hm(15);
  const auto plan = chart.plan(hm(15, 5));
  EXPECT_FALSE(alert(plan, "missed-check"));
  EXPECT_TRUE(alert(chart.plan(hm(16, 11)), "missed-check")) << "the first one after it is";
  for (const auto& m : plan.sites.front().milestones)
    if (m.step == Step::check_site && m.status == StepStatus::cancelled) {
      EXPECT_EQ(m.why->code, "watch.before-known");
    }
}

TEST(MissedChecks, AfterOneIsMadeTheWordsSayThatASecondEndsIt) {
  auto chart = dry_at_1532();
  chart.check(hm(16, 32));
  const auto plan = chart.plan(hm(16, 33));
  ASSERT_TRUE(alert(plan, "missed-check"));
  EXPECT_EQ(alert(plan, "missed-check")->why.code, "alert.missed-checks-made-since");
}

TEST(Alerts, AnEpisodeEndsAfterTwoNormalChecks) {
  auto chart = dry_at_1532();
  chart.check(hm(15, 45)).foot_pulse = FootPulse::absent;
  auto plan = chart.plan(hm(15, 46));
  ASSERT_TRUE(alert(plan, "limb-ischaemia"));
  EXPECT_EQ(alert(plan, "limb-ischaemia")->level, AlertLevel::emergency);
  const auto episode = alert(plan, "limb-ischaemia")->episode;
  EXPECT_FALSE(plan.up_at) << "the timeline is withheld";
  EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::blocked);
  EXPECT_FALSE(step(plan, Step::stand_and_walk).expected);
  chart.check(hm(15, 50));
  plan = chart.plan(hm(15, 51));
  ASSERT_TRUE(alert(plan, "limb-ischaemia"));
  EXPECT_EQ(alert(plan, "limb-ischaemia")->episode, episode);
  chart.check(hm(15, 55));
  plan = chart.plan(hm(15, 56));
  EXPECT_FALSE(alert(plan, "limb-ischaemia"));
  EXPECT_EQ(plan.up_at, hm(21, 32));
}

struct AlertRow {
  const char* name;
  std::function<void(Chart&)> change;
  const char* trigger;
  std::optional<AlertLevel> level;
};
// Levels: swelling of 5 cm in most trials, 10 cm large; haemoglobin 3 g/dL BARC 3a; platelets under 100 with a GP inhibitor: labels.
// Systolic under 90 and 80, fall of 30, heart rate 120 and 40: common practice, no source.
TEST(Alerts, LevelsByValue) {
  using enum AlertLevel;
  const auto pressure = [](double mmhg) { return [=](Chart& c) { c.pressure(mmhg, hm(16)); }; };
  const auto rate = [](double per_minute) { return [=](Chart& c) { c.lab(Analyte::heart_rate, per_minute, hm(16)); }; };
  const auto haemoglobin = [](double g) { return [=](Chart& c) { c.lab(Analyte::haemoglobin, g, hm(16)); }; };
  const auto swelling = [](double cm) { return [=](Chart& c) { c.check(hm(15, 58)).swelling = amount(cm, "cm"); }; };
  const auto pain = [](double mmhg) {
    return [=](Chart& c) {
      c.check(hm(15, 58)).back_pain = true;
      c.pressure(mmhg, hm(15, 58));
    };
  };
  const AlertRow rows[] = {
      {"bleeding", [](Chart& c) { c.check(hm(15, 58)).bleeding = Bleeding::bleeding; }, "site-bleeding", emergency},
      {"ooze", [](Chart& c) { c.check(hm(15, 58)).bleeding = Bleeding::ooze; }, "rebleed-question", tell},
      {"swelling 4.9", swelling(4.9), "swelling", std::nullopt},
      {"swelling 5", swelling(5), "swelling", urgent},
      {"swelling 10", swelling(10), "swelling", emergency},
      {"weaker pulse", [](Chart& c) { c.check(hm(15, 58)).foot_pulse = FootPulse::weaker; }, "foot-pulse-weaker", urgent},
      {"systolic 98: fallen by 30", pressure(98), "systolic-low", urgent},
      {"systolic 99: fallen by 29", pressure(99), "systolic-low", std::nullopt},
      {"systolic 89", pressure(89), "systolic-low", urgent},
      {"systolic 79", pressure(79), "systolic-low", emergency},
      {"systolic 160 at rest", pressure(160), "systolic-high", tell},
      {"systolic 180", pressure(180), "systolic-high", urgent},
      {"heart rate 121", rate(121), "heart-rate", urgent},
      {"heart rate 120", rate(120), "heart-rate", std::nullopt},
      {"heart rate 39", rate(39), "heart-rate", emergency},
      {"haemoglobin 12.1", haemoglobin(12.1), "haemoglobin-fall", std::nullopt},
      {"haemoglobin 12", haemoglobin(12), "haemoglobin-fall", urgent},
      {"haemoglobin 11", haemoglobin(11), "haemoglobin-fall", emergency},
      {"slow and low", [&](Chart& c) { rate(45)(c); pressure(85)(c); }, "vasovagal", emergency},
      {"back pain, pressure fallen", pain(97), "retroperitoneal-bleed", emergency},
      {"back pain alone", pain(125), "retroperitoneal-bleed", std::nullopt},
      {"platelets 90 with eptifibatide", [](Chart& c) { c.bolus(Agent::eptifibatide, 0, hm(12, 20)); c.lab(Analyte::platelets, 90, hm(15, 58)); }, "platelets-with-gp-inhibitor", urgent},
      {"platelets 90 without", [](Chart& c) { c.lab(Analyte::platelets, 90, hm(15, 58)); }, "platelets-with-gp-inhibitor", std::nullopt},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = dry_at_1532();
    row.change(chart);
    const auto plan = chart.plan(hm(16, 1));
    const auto* found = alert(plan, row.trigger);
    ASSERT_EQ(found != nullptr, row.level.has_value());
    if (found) {
      EXPECT_EQ(found->level, *row.level);
    }
  }
}

TEST(Alerts, EachTriggerIsInTheTable) {
  auto chart = dry_at_1532();
  chart.check(hm(15, 58)).bleeding = Bleeding::bleeding;
  chart.pressure(75, hm(15, 58));
  const auto plan = chart.plan(hm(16));
  for (const auto& a : plan.alerts)
    EXPECT_TRUE(std::ranges::any_of(kAlertTriggers, [&](const AlertTrigger& t) { return t.name == a.trigger && t.lowest <= a.level && a.level <= t.highest; })) << a.trigger;
}

TEST(Alerts, ADeviceOverTwoHoursOrOverTheOrderedTime) {
  auto chart = intervention_chart(6, Closure::mechanical);
  pull_at(chart, hm(15));
  EXPECT_FALSE(alert(chart.plan(hm(17)), "device-total"));
  EXPECT_TRUE(alert(chart.plan(hm(17, 0, 1)), "device-total"));
  chart.decide(Step::end_compression, "135 min", hm(15, 2));
  EXPECT_FALSE(alert(chart.plan(hm(17, 15)), "device-total"));
  EXPECT_TRUE(alert(chart.plan(hm(17, 15, 1)), "device-total"));
}

TEST(Alerts, AnOpenUrgentOneKeepsThePatientFlat) {
  auto chart = dry_at_1532();
  chart.check(hm(17, 30));
  chart.pressure(128, hm(17, 30));
  EXPECT_EQ(step(chart.plan(hm(17, 32)), Step::raise_head).status, StepStatus::due);
  chart.lab(Analyte::haemoglobin, 11.5, hm(17, 20));
  const auto plan = chart.plan(hm(17, 32));
  EXPECT_EQ(step(plan, Step::raise_head).status, StepStatus::blocked);
  EXPECT_EQ(step(plan, Step::raise_head).why->code, "rest.alert");
  EXPECT_EQ(step(plan, Step::raise_head).expected, hm(17, 32));
}

}  // namespace
}  // namespace clinical
