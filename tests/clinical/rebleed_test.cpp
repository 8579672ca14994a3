// T0 and what voids it: rebleed, change of method, swelling, contradicting times.
#include <algorithm>
#include <cmath>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart six_french_dry_at_1532() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}

TEST(Rebleed, RestartsTheClockAndAddsTwoHours) {
  auto chart = six_french_dry_at_1532();
  chart.event(compression_started, hm(18, 40));
  auto plan = chart.plan(hm(18, 41));
  EXPECT_EQ(plan.state, CaseState::compressing);
  EXPECT_FALSE(plan.sites.front().t0);
  EXPECT_FALSE(plan.up_at);
  EXPECT_EQ(step(plan, Step::end_compression).planned, minutes{20});
  EXPECT_EQ(at(plan, Step::end_compression), hm(19));
  EXPECT_FALSE(step(plan, Step::stand_and_walk).earliest);
  EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{8});

  chart.event(haemostasis_confirmed, hm(19, 5));
  plan = chart.plan(hm(19, 6));
  EXPECT_EQ(plan.sites.front().t0, hm(19, 5));
  EXPECT_EQ(plan.sites.front().haemostases, 2);
  EXPECT_EQ(at(plan, Step::stand_and_walk), hm(27, 5));
  EXPECT_EQ(at(plan, Step::raise_head), hm(21, 5));
}

TEST(Rebleed, EachOneAddsTwoHoursOutsideTheCap) {
  auto chart = six_french_dry_at_1532();
  for (int i = 0; i < 2; ++i) {
    chart.event(compression_started, hm(17 + 2 * i));
    chart.event(haemostasis_confirmed, hm(17 + 2 * i, 25));
  }
  const auto plan = chart.plan(hm(20));
  EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{10});
  EXPECT_EQ(plan.sites.front().rebleeds, (std::vector{hm(17), hm(19)}));
  const auto& alerts = plan.alerts;
  EXPECT_TRUE(std::ranges::any_of(alerts, [](const Alert& a) { return a.trigger == "rebleed" && a.level == AlertLevel::urgent; }));
}

TEST(Rebleed, OverTwelveHoursAPhysicianSetsIt) {
  auto chart = six_french_dry_at_1532();
  for (int i = 0; i < 4; ++i) {
    chart.event(compression_started, hm(17 + i));
    chart.event(haemostasis_confirmed, hm(17 + i, 25));
  }
  auto plan = chart.plan(hm(20, 30));
  EXPECT_EQ(step(plan, Step::stand_and_walk).planned, minutes{840});
  EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::blocked);
  EXPECT_FALSE(step(plan, Step::stand_and_walk).expected);
  EXPECT_FALSE(plan.up_at);
  chart.decide(Step::stand_and_walk, "840 min", hm(20, 31)).performer.clear();
  EXPECT_FALSE(chart.plan(hm(20, 32)).up_at) << "a decision without a performer";
  chart.decide(Step::stand_and_walk, "840 min", hm(20, 31));
  EXPECT_EQ(chart.plan(hm(20, 32)).up_at, hm(20, 25) + hours{14});
}

TEST(Rebleed, CodedAndPressedIsOneRebleed) {
  auto chart = six_french_dry_at_1532();
  chart.event(rebleed, hm(18, 38));
  chart.event(compression_started, hm(18, 40));
  chart.event(haemostasis_confirmed, hm(19, 5));
  EXPECT_EQ(step(chart.plan(hm(19, 6)), Step::stand_and_walk).after_t0, hours{8});
  auto other = six_french_dry_at_1532();
  other.event(compression_started, hm(18, 40));
  other.event(rebleed, hm(18, 45));
  other.event(haemostasis_confirmed, hm(19, 5));
  EXPECT_EQ(step(other.plan(hm(19, 6)), Step::stand_and_walk).after_t0, hours{8});
}

TEST(Rebleed, NotShorterThanTheFirstHold) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15, 0));
  chart.event(haemostasis_confirmed, hm(15, 33));
  chart.event(compression_started, hm(18));
  EXPECT_EQ(step(chart.plan(hm(18, 1)), Step::end_compression).planned, minutes{33});
  auto small = plain_chart(4);
  pull_at(small, hm(15));
  small.event(haemostasis_confirmed, hm(15, 15));
  small.event(compression_started, hm(18));
  EXPECT_EQ(step(small.plan(hm(18, 1)), Step::end_compression).planned, minutes{20});
}

TEST(Rebleed, AfterAClosureDeviceItIsHeldByHand) {
  auto chart = plain_chart(6, Closure::device);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 5));
  EXPECT_EQ(step(chart.plan(hm(15, 6)), Step::stand_and_walk).after_t0, hours{2});
  chart.event(compression_started, hm(16));
  auto plan = chart.plan(hm(16, 1));
  EXPECT_EQ(plan.sites.front().closure, Closure::manual);
  EXPECT_EQ(step(plan, Step::end_compression).planned, minutes{25});          // 20 of the row, 5 for the device that failed
  EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{6} + hours{2});
}

TEST(Rebleed, TheOrderOfReceiptDoesNotMatter) {
  auto chart = six_french_dry_at_1532();
  chart.event(compression_started, hm(18, 40));
  chart.event(haemostasis_confirmed, hm(19, 5));
  const auto expected = written_view(chart.plan(hm(19, 6)));
  std::ranges::reverse(chart.record.access_events);
  EXPECT_EQ(written_view(chart.plan(hm(19, 6))), expected);
}

const Alert* told(const CasePlan& plan, std::string_view trigger) {
  for (const auto& a : plan.alerts)
    if (a.trigger == trigger) return &a;
  return nullptr;
}

// Dry checks say that it is dry now, not whether it was pressed in between: the question stays until somebody answers it.
TEST(RebleedQuestion, DryChecksDoNotAnswerIt) {
  auto chart = six_french_dry_at_1532();
  chart.check(hm(15, 45)).bleeding = Bleeding::bleeding;
  for (const int minute : {50, 55}) chart.check(hm(15, minute));
  auto plan = chart.plan(hm(15, 56));
  EXPECT_FALSE(told(plan, "site-bleeding")) << "two normal values ended that episode";
  ASSERT_TRUE(told(plan, "rebleed-question"));
  EXPECT_EQ(told(plan, "rebleed-question")->level, AlertLevel::urgent) << "blood was seen";
  chart.check(hm(21, 31));
  chart.pressure(120, hm(21, 31));
  plan = chart.plan(hm(21, 33));
  EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::blocked);
  EXPECT_FALSE(plan.up_at);
}

TEST(RebleedQuestion, AnOozeIsAskedAboutAndHoldsNothingOnceDry) {
  auto chart = six_french_dry_at_1532();
  chart.check(hm(15, 45)).bleeding = Bleeding::ooze;
  for (const int minute : {50, 55}) chart.check(hm(15, minute));
  const auto plan = chart.plan(hm(15, 56));
  ASSERT_TRUE(told(plan, "rebleed-question"));
  EXPECT_EQ(told(plan, "rebleed-question")->level, AlertLevel::tell);
  EXPECT_EQ(plan.up_at, hm(21, 32));
}

struct AnswerRow {
  const char* name;
  std::function<void(Chart&)> answer;
  bool answered;
};
TEST(RebleedQuestion, PressingANewHaemostasisOrANamedPersonAnswersIt) {
  const auto decide = [](const char* seen, const char* who, Instant at) {
    return [=](Chart& c) { c.decide(Step::check_site, seen, at).performer = who; };
  };
  const AnswerRow rows[] = {
      {"pressed again", [](Chart& c) { c.event(compression_started, hm(15, 46)); }, true},
      {"haemostasis confirmed again", [](Chart& c) { c.event(haemostasis_confirmed, hm(15, 50)); }, true},
      {"somebody decided that it was none", decide("bleeding", "Practitioner/invented", hm(15, 47)), true},
      {"nobody's decision", decide("bleeding", "", hm(15, 47)), false},
      {"a decision about something milder", decide("ooze", "Practitioner/invented", hm(15, 47)), false},
      {"a decision before it was seen", decide("bleeding", "Practitioner/invented", hm(15, 44)), false},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = six_french_dry_at_1532();
    chart.check(hm(15, 45)).bleeding = Bleeding::bleeding;
    row.answer(chart);
    EXPECT_EQ(told(chart.plan(hm(15, 52)), "rebleed-question") == nullptr, row.answered);
  }
}

TEST(Haemostasis, ACompressionThatEndedAloneIsNone) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15));
  chart.event(compression_ended, hm(15, 25));
  auto plan = chart.plan(hm(15, 26));
  EXPECT_FALSE(plan.sites.front().t0);
  EXPECT_EQ(plan.state, CaseState::compressing);
  EXPECT_EQ(step(plan, Step::end_compression).status, StepStatus::due);
  EXPECT_TRUE(std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::haemostasis_time; }));
  chart.event(haemostasis_confirmed, hm(15, 27));
  EXPECT_EQ(chart.plan(hm(15, 28)).sites.front().t0, hm(15, 27));
}

TEST(Haemostasis, WaitsForADeviceThatIsRecordedAsRunning) {
  auto chart = intervention_chart(6, Closure::mechanical);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  EXPECT_FALSE(chart.plan(hm(15, 21)).sites.front().t0);
  chart.event(compression_ended, hm(17, 10));
  const auto plan = chart.plan(hm(17, 11));
  EXPECT_EQ(plan.sites.front().t0, hm(17, 10));
}

TEST(Haemostasis, TheLatestOfItsEventsCounts) {
  auto chart = six_french_dry_at_1532();
  chart.event(compression_ended, hm(15, 35));
  auto plan = chart.plan(hm(15, 36));
  EXPECT_EQ(plan.sites.front().t0, hm(15, 35));
  EXPECT_EQ(plan.sites.front().haemostases, 1);
}

TEST(Haemostasis, SoonerThanPlannedStandsAndIsTold) {
  auto chart = intervention_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 10));
  const auto plan = chart.plan(hm(15, 11));
  EXPECT_EQ(plan.sites.front().t0, hm(15, 10));
  EXPECT_TRUE(plan.sites.front().high_watch);
  EXPECT_TRUE(std::ranges::any_of(plan.alerts, [](const Alert& a) { return a.trigger == "early-haemostasis" && a.level == AlertLevel::tell; }));
}

TEST(ChangeOfMethod, MechanicalToManualStartsANewHold) {
  auto chart = intervention_chart(6, Closure::mechanical);
  pull_at(chart, hm(15));
  chart.event(compression_started, hm(15, 40)).method = Closure::manual;
  auto plan = chart.plan(hm(15, 41));
  EXPECT_EQ(at(plan, Step::firm_compression), hm(15, 40)) << "a new hold";
  EXPECT_EQ(at(plan, Step::end_compression), hm(16));
  chart.event(haemostasis_confirmed, hm(16, 2));
  EXPECT_EQ(chart.plan(hm(16, 3)).sites.front().t0, hm(16, 2));
}

struct SwellingRow {
  const char* name;
  double size;
  bool grows;
  bool stands;
  int rest_hours;
};
TEST(Swelling, SmallAddsTwoHoursLargeOrGrowingVoidsHaemostasis) {
  for (const auto& row : {SwellingRow{"3 cm, stable", 3, false, true, 8}, SwellingRow{"4.9 cm, stable", 4.9, false, true, 8},
                          SwellingRow{"5 cm", 5, false, false, 6}, SwellingRow{"2 cm, grows", 2, true, false, 6}}) {
    SCOPED_TRACE(row.name);
    auto chart = six_french_dry_at_1532();
    auto& check = chart.check(hm(16, 2));
    check.swelling = amount(row.size, "cm");
    check.growth = row.grows;
    const auto plan = chart.plan(hm(16, 3));
    EXPECT_EQ(plan.sites.front().t0.has_value(), row.stands);
    EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{row.rest_hours});
    EXPECT_TRUE(plan.sites.front().high_watch);
    ASSERT_EQ(plan.alerts.size(), 1U);
    EXPECT_EQ(plan.alerts.front().trigger, row.stands ? "swelling-small" : "swelling") << "tell physician (B6), call at once";
  }
}

// Worse never ends sooner: 4 cm and stable is up at 15:32 + 6 h + 2 h; 5 cm with its new clock may not be up before that.
TEST(Swelling, LargeNeverEndsSoonerThanSmall) {
  const auto up_after = [](double cm, Instant dry_again) {
    auto chart = six_french_dry_at_1532();
    chart.check(hm(15, 40)).swelling = amount(cm, "cm");
    if (cm >= 5) chart.event(haemostasis_confirmed, dry_again);
    return at(chart.plan(hm(19)), Step::stand_and_walk);
  };
  EXPECT_EQ(up_after(4, {}), hm(23, 32));
  EXPECT_EQ(up_after(5, hm(15, 56)), hm(23, 32));
  EXPECT_EQ(up_after(5, hm(17, 32)), hm(23, 32)) << "6 h from the new clock";
  EXPECT_EQ(up_after(5, hm(18)), hm(24)) << "no further hours once the new clock alone is longer";
}

// Called dry while the sheath was in, pressed when it came out: two records that contradict each other, no rebleed.
TEST(Conflicts, HaemostasisBeforeTheSheathCameOutIsNoRebleed) {
  auto chart = intervention_chart(6);
  chart.event(haemostasis_confirmed, hm(15, 5));
  pull_at(chart, hm(15, 12));
  auto plan = chart.plan(hm(15, 20));
  const auto contradicts = [](const CasePlan& p) {
    return std::ranges::any_of(p.conflicts, [](const Conflict& c) { return c.about == "t0-before-sheath-out" && c.inputs.size() == 2 && c.values.size() == 2; });
  };
  EXPECT_TRUE(contradicts(plan));
  EXPECT_FALSE(told(plan, "rebleed"));
  EXPECT_EQ(plan.state, CaseState::compressing);
  EXPECT_EQ(step(plan, Step::stand_and_walk).after_t0, hours{6}) << "no hours of a rebleed";
  chart.event(haemostasis_confirmed, hm(15, 40));
  plan = chart.plan(hm(15, 41));
  EXPECT_TRUE(contradicts(plan));
  EXPECT_FALSE(plan.sites.front().t0) << "until the record is put right";
  std::erase_if(chart.record.access_events, [](const AccessEvent& e) { return e.kind == haemostasis_confirmed && e.at->latest == hm(15, 5); });
  plan = chart.plan(hm(15, 41));
  EXPECT_TRUE(plan.conflicts.empty());
  EXPECT_EQ(plan.sites.front().t0, hm(15, 40));
}

// What nobody recorded has no time: the phases of a hold that is over are told as no longer due, not as done at T0.
TEST(Phases, AreDoneOnlyAtATimeThatSomebodyRecorded) {
  auto chart = six_french_dry_at_1532();
  chart.done(Step::firm_compression, hm(15, 25));
  const auto plan = chart.plan(hm(15, 40));
  EXPECT_EQ(step(plan, Step::firm_compression).status, StepStatus::done);
  EXPECT_EQ(step(plan, Step::firm_compression).actual, hm(15, 25));
  for (const Step s : {Step::partial_compression, Step::light_compression}) {
    EXPECT_EQ(step(plan, s).status, StepStatus::cancelled);
    EXPECT_FALSE(step(plan, s).actual);
    EXPECT_FALSE(step(plan, s).earliest);
  }
  EXPECT_EQ(step(plan, Step::end_compression).status, StepStatus::done);
  EXPECT_EQ(step(plan, Step::end_compression).actual, hm(15, 32)) << "recorded haemostasis";
}

struct ConflictRow {
  const char* name;
  std::function<void(Chart&)> change;
  const char* about;
};
TEST(Conflicts, WithholdWhatDependsOnThem) {
  const ConflictRow rows[] = {
      {"haemostasis before sheath out", [](Chart& c) { c.event(sheath_removed, hm(15, 50)); }, "t0-before-sheath-out"},
      {"rebleed without a time", [](Chart& c) { c.event(rebleed, hm(16)).at.reset(); }, "event-without-time"},
      {"event in the future", [](Chart& c) { c.event(rebleed, hm(19)); }, "future-time"},
      {"two times in one Task", [](Chart& c) { c.record.access_events.back().time_conflict = true; }, "two-times-in-one-record"},
      {"an event of a procedure nobody knows", [](Chart& c) { c.event(rebleed, hm(16), "Procedure/elsewhere"); }, "event-of-unknown-procedure"},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = six_french_dry_at_1532();
    row.change(chart);
    const auto plan = chart.plan(hm(16, 1));
    EXPECT_TRUE(std::ranges::any_of(plan.conflicts, [&](const Conflict& c) { return c.about == row.about; }));
    EXPECT_EQ(step(plan, Step::stand_and_walk).status, StepStatus::blocked);
    EXPECT_FALSE(step(plan, Step::stand_and_walk).earliest);
    EXPECT_FALSE(plan.up_at);
  }
}

TEST(Conflicts, FiveMinutesAheadIsTheToleranceOfTwoClocks) {
  auto chart = six_french_dry_at_1532();
  chart.event(rebleed, hm(16, 6));
  EXPECT_TRUE(chart.plan(hm(16, 1)).conflicts.empty());
  EXPECT_FALSE(chart.plan(hm(16)).conflicts.empty());
  EXPECT_FALSE(chart.plan(hm(16, 1)).sites.front().t0) << "a rebleed counts at once";
  EXPECT_FALSE(chart.plan(hm(16, 6)).sites.front().t0);
}

TEST(TaskTimes, ALateClosedTaskDoesNotMakeARebleed) {
  auto chart = six_french_dry_at_1532();
  for (const auto kind : {sheath_removed, compression_started}) {
    auto& event = chart.event(kind, hm(15, 50));
    event.from_task = event.recording_time_only = true;
  }
  const auto plan = chart.plan(hm(16));
  EXPECT_EQ(plan.sites.front().t0, hm(15, 32));
  EXPECT_TRUE(plan.conflicts.empty());
}

}  // namespace
}  // namespace clinical
