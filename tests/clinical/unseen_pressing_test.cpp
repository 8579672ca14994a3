// What must be asked because the record only implies it: that somebody presses, that the sheath came out, what a check known by its day says.
#include <gmock/gmock.h>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Missing* lacks(const CasePlan& plan, Fact fact) {
  for (const auto& m : plan.missing)
    if (m.fact == fact) return &m;
  return nullptr;
}

Chart dry_at_1425(Closure closure = Closure::manual) {
  Chart chart = plain_chart(6, closure);
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  return chart;
}

void expect_asked(const Chart& chart, Instant now, const char* what) {
  const auto plan = chart.plan(now);
  const auto& end = step(plan, Step::end_compression);
  EXPECT_EQ(end.status, StepStatus::blocked) << what;
  EXPECT_FALSE(end.earliest) << what;
  ASSERT_TRUE(end.why) << what;
  EXPECT_EQ(end.why->code, "hold.start-unknown") << what;
  EXPECT_FALSE(plan.sites.front().compression_started) << what;
  ASSERT_TRUE(lacks(plan, Fact::compression_start)) << what;
  EXPECT_THAT(lacks(plan, Fact::compression_start)->blocks, testing::Contains(Step::end_compression)) << what;
  EXPECT_TRUE(end.planned) << what;
  const auto& firm = step(plan, Step::firm_compression);
  EXPECT_EQ(firm.status, StepStatus::due) << what << ": somebody is to press now";
  EXPECT_TRUE(firm.released) << what;
  EXPECT_EQ(step(plan, Step::partial_compression).status, StepStatus::blocked) << what;
}

TEST(UnseenPressing, ARebleedAloneStartsNoClock) {
  auto chart = dry_at_1425();
  chart.event(rebleed, hm(16));
  expect_asked(chart, hm(16, 5), "rebleed");
  const auto later = chart.plan(hm(17));
  EXPECT_EQ(step(later, Step::end_compression).status, StepStatus::blocked) << "time alone ends no hold that nobody saw";
  EXPECT_TRUE(lacks(later, Fact::haemostasis_time) || lacks(later, Fact::compression_start));
  chart.event(compression_started, hm(16, 4));
  const auto plan = chart.plan(hm(16, 5));
  EXPECT_EQ(step(plan, Step::end_compression).earliest, hm(16, 29)) << "25 min, as long as the first hold";
  EXPECT_EQ(plan.sites.front().compression_started, hm(16, 4));
  EXPECT_FALSE(lacks(plan, Fact::compression_start));
  EXPECT_EQ(plan.sites.front().rebleeds, (std::vector<Instant>{hm(16)})) << "one rebleed, not two";
}

TEST(UnseenPressing, NorDoesAGrowingSwellingOrAFailedDevice) {
  auto swollen = dry_at_1425();
  swollen.check(hm(16)).growth = true;
  expect_asked(swollen, hm(16, 5), "swelling");
  auto failed = plain_chart(6, Closure::device);
  pull_at(failed, hm(14));
  failed.record.access_events.pop_back();
  failed.event(closure_failed, hm(14, 1));
  expect_asked(failed, hm(14, 5), "failed device");
}

TEST(UnseenPressing, ThePullItselfIsPressedFromTheStart) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(14));
  chart.record.access_events.pop_back();
  const auto plan = chart.plan(hm(14, 5));
  EXPECT_EQ(step(plan, Step::end_compression).earliest, hm(14, 20));
  EXPECT_FALSE(lacks(plan, Fact::compression_start));
}

TEST(UnseenPressing, ACompressionThatEndedAloneAsksForHaemostasis) {
  auto chart = dry_at_1425();
  chart.event(rebleed, hm(16));
  chart.event(compression_ended, hm(16, 30));
  const auto plan = chart.plan(hm(16, 31));
  EXPECT_EQ(step(plan, Step::end_compression).earliest, hm(16, 30));
  EXPECT_TRUE(lacks(plan, Fact::haemostasis_time));
}

// Off, out at a time that nobody knows, and never seen on: there is no hold to end.
TEST(UnseenPressing, AnEndWithoutAStartHasNoTime) {
  auto chart = plain_chart(6);
  chart.event(sheath_removed, hm(14)).at.reset();
  chart.event(compression_ended, hm(14, 20));
  const auto plan = chart.plan(hm(14, 30));
  EXPECT_EQ(step(plan, Step::end_compression).status, StepStatus::blocked);
  EXPECT_FALSE(step(plan, Step::end_compression).earliest);
  EXPECT_TRUE(lacks(plan, Fact::haemostasis_time));
}

// The vein of the same groin waits while nobody knows since when the artery is pressed.
TEST(UnseenPressing, TheVeinWaits) {
  auto chart = plain_chart(6);
  auto& vein = chart.procedure("p2", 6, Closure::manual, Side::right, Vessel::vein);
  vein.part_of = "Procedure/p1";
  pull_at(chart, hm(14));
  chart.event(haemostasis_confirmed, hm(14, 25));
  chart.event(rebleed, hm(15));
  chart.pressure(128, hm(15, 4));
  chart.lab(Analyte::heart_rate, 70, hm(15, 4));
  chart.check(hm(15, 4), "Procedure/p2");
  const auto plan = chart.plan(hm(15, 5));
  ASSERT_EQ(plan.sites.size(), 2U);
  const auto& pull = step(plan.sites[1], Step::remove_sheath);
  EXPECT_EQ(pull.status, StepStatus::blocked);
  EXPECT_FALSE(pull.earliest);
}

TEST(SheathRemoval, HaemostasisWithoutARecordedRemovalAsksForIt) {
  auto chart = plain_chart(6);
  chart.event(haemostasis_confirmed, hm(14, 25));
  const auto plan = chart.plan(hm(14, 30));
  ASSERT_TRUE(lacks(plan, Fact::sheath_removal));
  EXPECT_EQ(lacks(plan, Fact::sheath_removal)->asked_of, AskedOf::nurse);
  EXPECT_EQ(lacks(plan, Fact::sheath_removal)->site, "Procedure/p1");
  EXPECT_EQ(step(plan, Step::provide_missing).status, StepStatus::due);
  EXPECT_FALSE(lacks(dry_at_1425().plan(hm(14, 30)), Fact::sheath_removal));
  EXPECT_FALSE(lacks(plain_chart(6).plan(hm(14, 30)), Fact::sheath_removal)) << "nothing says that it is out";
}

TEST(ClosureWatch, NothingIsSaidOfAPullThatIsStillToCome) {
  const auto plan = plain_chart(6).plan(hm(13, 30));
  for (const auto& why : plan.sites.front().watched_for)
    for (const auto& [name, value] : why.arguments) EXPECT_NE(value, Argument{std::string("@add.pressure-at-pull")});
  auto pulled = plain_chart(6);
  pulled.event(sheath_removed, hm(14));
  const auto after = pulled.plan(hm(14, 1));
  EXPECT_TRUE(std::ranges::any_of(after.sites.front().watched_for, [](const Reason& r) { return r.code == "watch.closer.not-recorded"; }));
}

// A check known by its day is said by its day: a clock time would be invented.
TEST(DayOnly, NoClockTimeInTheWordsOfAGateOrAStep) {
  auto chart = plain_chart(6);
  const Moment day{hm(0), hm(23, 59, 59)};
  auto& check = chart.check(hm(13, 30));
  check.at = day;
  check.bleeding = Bleeding::bleeding;
  const auto sheath_in = chart.plan(hm(24, 5));
  for (const auto& gate : sheath_in.sites.front().gates) {
    if (gate.name != GateName::site_status) continue;
    EXPECT_THAT(gate.why.arguments, testing::Contains(std::pair(std::string("at"), Argument{day})));
  }
  auto resting = dry_at_1425();
  auto& wet = resting.check(hm(20));
  wet.at = Moment{hm(0), hm(23, 59, 59)};
  wet.bleeding = Bleeding::ooze;
  const auto walk = step(resting.plan(hm(24, 5)), Step::stand_and_walk);
  ASSERT_TRUE(walk.why);
  for (const auto& [name, value] : walk.why->arguments)
    if (name == "at") { EXPECT_TRUE(std::holds_alternative<Moment>(value)); }
}

TEST(NextDraw, OneThatGaveNoValueMovesNothing) {
  auto chart = intervention_chart(6);
  const auto next = [&] { return chart.plan(hm(14, 30)).sites.front().projection->next_draw; };
  EXPECT_EQ(next(), hm(15, 5)) << "3 h after the last heparin";
  chart.lab(Analyte::act, 0, hm(14, 20)).value.reset();
  EXPECT_EQ(next(), hm(15, 5));
  chart.lab(Analyte::act, 240, hm(14, 25));
  EXPECT_NE(next(), hm(15, 5));
}

// Of several weights the worst: the one that lengthens. 178 cm: 111 kg is 35.0 kg/m2, 58 kg 18.3.
TEST(Weights, TheWorstCountsForTheBodyMassIndex) {
  const auto rest = [](std::initializer_list<std::pair<double, Instant>> weights) {
    auto chart = plain_chart(6);
    std::erase_if(chart.record.measurements, [](const Measurement& m) { return m.analyte == Analyte::weight; });
    for (const auto& [kg, at] : weights) chart.lab(Analyte::weight, kg, at);
    return step(chart.plan(hm(13, 30)), Step::stand_and_walk).after_t0;
  };
  EXPECT_EQ(rest({{80, hm(12, 10)}}), hours{6});
  EXPECT_EQ(rest({{111, hm(12, 10)}}), hours{7});
  EXPECT_EQ(rest({{111, hm(12, 10)}, {80, hm(12, 40)}}), hours{7}) << "the newest is not the worst";
  EXPECT_EQ(rest({{58, hm(12, 10)}, {80, hm(12, 40)}}), hours{7});
  EXPECT_EQ(rest({{111, hm(8)}, {80, hm(12, 40)}}), hours{6}) << "before the start only the last, and only where none lies after it";
  EXPECT_EQ(rest({{111, hm(7)}, {80, hm(8)}}), hours{6});
}

}  // namespace
}  // namespace clinical
