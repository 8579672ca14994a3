// The course of a puncture where the record tells it oddly: a sheath that is only seen, dry at the very minute of the pull, presses that are recorded twice, removals
// that are told by a Task or without a time. Clinical model, "T0, rest, sitting, walking" and "When facts change"; the cases are invented.
#include <gmock/gmock.h>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

std::vector<std::string> conflicts(const CasePlan& plan) {
  std::vector<std::string> all;
  for (const auto& c : plan.conflicts) all.push_back(std::string(name_of(c.fact)) + " " + c.about);
  return all;
}

// No time of getting up while a sheath is in (model, "Outside checks" of the plan): whoever saw it there has not been contradicted by a removal.
TEST(SeenSheath, HaemostasisWithASheathThatWasSeenIsAContradiction) {
  Chart chart = plain_chart(6);
  chart.event(sheath_in_place, hm(14));
  chart.event(haemostasis_confirmed, hm(15));
  auto plan = chart.plan(hm(15, 5));
  EXPECT_FALSE(plan.sites[0].t0);
  EXPECT_FALSE(plan.up_at);
  EXPECT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time haemostasis-with-sheath-in"));
  EXPECT_EQ(plan.conflicts[0].values, (std::vector<std::string>{"sheath-in-place 2026-03-02T14:00:00Z", "haemostasis-confirmed 2026-03-02T15:00:00Z"}));
  chart.event(sheath_removed, hm(14, 40));
  plan = chart.plan(hm(15, 5));
  EXPECT_EQ(plan.sites[0].t0, hm(15)) << "the removal explains both";
  EXPECT_THAT(conflicts(plan), testing::IsEmpty());
}

TEST(SeenSheath, SoIsPressingWithoutARemoval) {
  Chart chart = plain_chart(6);
  chart.event(sheath_in_place, hm(14));
  chart.event(compression_started, hm(14, 30));
  EXPECT_THAT(conflicts(chart.plan(hm(14, 40))), testing::ElementsAre("haemostasis-time pressed-with-sheath-in"));
  chart.event(haemostasis_confirmed, hm(14, 50));
  const auto plan = chart.plan(hm(15));
  EXPECT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time haemostasis-with-sheath-in", "haemostasis-time pressed-with-sheath-in"));
  EXPECT_FALSE(plan.up_at);
  Chart unseen = plain_chart(6);
  unseen.event(compression_started, hm(14, 30));
  EXPECT_THAT(conflicts(unseen.plan(hm(14, 40))), testing::IsEmpty()) << "where nobody saw it the pressing tells that it is out";
}

TEST(SeenSheath, SeenAfterItCameOutIsNoSecondSheath) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(sheath_in_place, hm(15, 10));
  auto plan = chart.plan(hm(15, 12));
  EXPECT_THAT(conflicts(plan), testing::Contains("haemostasis-time sheath-seen-after-removal"));
  EXPECT_EQ(plan.sites[0].sheath_out, hm(15));
  Chart again = plain_chart(6);
  pull_at(again, hm(15));
  again.event(sheath_inserted, hm(15, 5));
  again.event(sheath_in_place, hm(15, 10));
  plan = again.plan(hm(15, 12));
  EXPECT_THAT(conflicts(plan), testing::Not(testing::Contains("haemostasis-time sheath-seen-after-removal"))) << "a new one is recorded";
  EXPECT_EQ(plan.state, CaseState::sheath_in);
  Chart pressed = plain_chart(6);
  pressed.event(compression_started, hm(15));
  pressed.event(sheath_in_place, hm(15, 10));
  EXPECT_EQ(pressed.plan(hm(15, 12)).state, CaseState::compressing) << "a look does not end the pressing";
  Chart dry = plain_chart(6);
  dry.event(haemostasis_confirmed, hm(15));
  dry.event(sheath_in_place, hm(15, 10));
  EXPECT_EQ(dry.plan(hm(15, 12)).state, CaseState::resting);
  Chart before = plain_chart(6);
  before.event(sheath_in_place, hm(14));
  pull_at(before, hm(15));
  EXPECT_THAT(conflicts(before.plan(hm(15, 5))), testing::IsEmpty());
}

// A hand on the groin with the sheath in, for ooze round it: that it ended asks nobody for haemostasis.
TEST(CourseEdges, APressThatEndedWithTheSheathInAsksForNoHaemostasis) {
  Chart chart = plain_chart(6);
  chart.event(sheath_inserted, hm(12, 5));
  chart.event(compression_started, hm(14));
  chart.event(compression_ended, hm(14, 10));
  const auto plan = chart.plan(hm(14, 15));
  EXPECT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time pressed-with-sheath-in"));
  for (const auto& m : plan.missing) EXPECT_NE(m.fact, Fact::haemostasis_time);
}

TEST(CourseEdges, DryAtTheMinuteOfThePull) {
  Chart chart = plain_chart(6);
  chart.event(compression_started, hm(14, 50));
  chart.event(haemostasis_confirmed, hm(15));
  chart.event(sheath_removed, hm(15));
  auto plan = chart.plan(hm(15, 5));
  EXPECT_EQ(plan.sites[0].t0, hm(15)) << "not before it";
  EXPECT_THAT(conflicts(plan), testing::IsEmpty());
  chart.record.access_events[1].at = exactly(hm(14, 59, 59));
  plan = chart.plan(hm(15, 5));
  EXPECT_FALSE(plan.sites[0].t0);
  EXPECT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time t0-before-sheath-out"));
}

TEST(CourseEdges, ConfirmedTwiceBeforeThePull) {
  Chart chart = plain_chart(6);
  chart.event(haemostasis_confirmed, hm(14, 30));
  chart.event(haemostasis_confirmed, hm(14, 40));
  chart.event(sheath_removed, hm(15));
  const auto plan = chart.plan(hm(15, 5));
  EXPECT_FALSE(plan.sites[0].t0);
  EXPECT_EQ(plan.sites[0].haemostases, 0);
  ASSERT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time t0-before-sheath-out"));
  EXPECT_EQ(plan.conflicts[0].values[0], "haemostasis-confirmed 2026-03-02T14:30:00Z") << "the first of them";
}

// A second removal after haemostasis, with no sheath put in between: one of the three is wrong.
TEST(CourseEdges, ARemovalAfterHaemostasis) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  chart.event(sheath_removed, hm(16));
  const auto plan = chart.plan(hm(16, 5));
  EXPECT_FALSE(plan.sites[0].t0);
  EXPECT_THAT(conflicts(plan), testing::ElementsAre("haemostasis-time sheath-out-twice", "haemostasis-time t0-before-sheath-out"));
}

// A closure that failed before its sheath came out: it is pressed from the pull on.
TEST(CourseEdges, AFailureBeforeThePull) {
  Chart chart = plain_chart(6, Closure::device);
  chart.event(closure_failed, hm(14, 55));
  chart.event(sheath_removed, hm(15));
  const auto plan = chart.plan(hm(15, 5));
  EXPECT_EQ(plan.sites[0].compression_started, hm(15));
  EXPECT_EQ(plan.sites[0].closure, Closure::manual);
}

TEST(CourseEdges, AStartThatIsRecordedAgainCountsFromThen) {
  const auto from = [](Closure first, Closure second) {
    Chart chart = plain_chart(6);
    chart.event(sheath_removed, hm(15));
    chart.event(compression_started, hm(15)).method = first;
    chart.event(compression_started, hm(15, 4)).method = second;
    return step(chart.plan(hm(15, 10)), Step::end_compression).earliest;
  };
  using enum Closure;
  EXPECT_EQ(from(manual, manual), hm(15, 24));
  EXPECT_EQ(from(manual, unknown), hm(15, 24));
  EXPECT_EQ(from(unknown, manual), hm(15, 24));
}

// How it is pressed decides whether a confirmation is T0 already: under a clamp it is not, and a growth then voids nothing.
TEST(CourseEdges, GrowthUnderAClampThatIsStillOn) {
  const auto t0 = [](Closure closure, Closure method, bool grows) {
    Chart chart = plain_chart(6, closure);
    pull_at(chart, hm(15));
    chart.record.access_events.back().method = method;
    chart.event(haemostasis_confirmed, hm(15, 20));
    if (grows) chart.check(hm(15, 25)).growth = true;
    chart.event(compression_ended, hm(15, 40));
    return chart.plan(hm(15, 45)).sites[0].t0;
  };
  using enum Closure;
  EXPECT_EQ(t0(mechanical, mechanical, false), hm(15, 40)) << "the clamp came off then";
  EXPECT_EQ(t0(mechanical, mechanical, true), hm(15, 40));
  EXPECT_EQ(t0(mechanical, unknown, true), hm(15, 40)) << "the closure tells that it is one";
  EXPECT_EQ(t0(unknown, mechanical, true), hm(15, 40));
}

// A Task that somebody closed late adds nothing where the removal itself stands there with its time; where it does not, the Task is all there is.
TEST(CourseEdges, ARemovalThatATaskRestates) {
  const auto out = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    change(chart);
    return say(chart.plan(hm(16)).sites[0].sheath_out) + " " + say(chart.plan(hm(16)).sites[0].compression_started);
  };
  const auto by_task = [](AccessEvent& e) { e.from_task = e.recording_time_only = true; };
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15)), by_task(c.event(sheath_removed, hm(15, 40))); }), "15:00 15:00");
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15)), by_task(c.event(compression_started, hm(15, 40))); }), "15:00 15:00");
  EXPECT_EQ(out([&](Chart& c) { by_task(c.event(sheath_removed, hm(15, 40))); }), "15:40 15:40") << "nothing else tells of it";
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15)).at.reset(), by_task(c.event(sheath_removed, hm(15, 40))); }), "15:40 15:40") << "the other has no time";
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15, 50)), by_task(c.event(sheath_removed, hm(15, 40))); }), "15:50 15:50") << "the other came later: both are told, and pressed is from the last";
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15)), by_task(c.event(compression_ended, hm(15, 40))); }), "15:00 15:00") << "an end is no second start";
  EXPECT_EQ(out([&](Chart& c) { c.event(sheath_removed, hm(15)), c.event(sheath_removed, hm(15, 3)).from_task = true; }), "15:03 15:03") << "a Task with the time of the act tells of it";
}

// Signs of an ischaemic limb: the timeline is withheld, whatever the stage (model, "Rebleed").
TEST(LimbSigns, WithholdTheTimelineAtEveryStage) {
  const auto why = [](const Chart& chart, Instant now, Step s) {
    const auto plan = chart.plan(now);
    EXPECT_FALSE(step(plan, s).earliest) << name_of(s);
    return step(plan, s).why ? step(plan, s).why->code : "";
  };
  Chart in = plain_chart(6);
  in.check(hm(15)).foot_pulse = FootPulse::absent;
  EXPECT_EQ(why(in, hm(15, 5), Step::remove_sheath), "withheld.limb");
  Chart pressed = plain_chart(6);
  pull_at(pressed, hm(15));
  pressed.check(hm(15, 5)).foot_pulse = FootPulse::absent;
  EXPECT_EQ(why(pressed, hm(15, 6), Step::end_compression), "withheld.limb");
  Chart rests = plain_chart(6);
  pull_at(rests, hm(15));
  rests.event(haemostasis_confirmed, hm(15, 20));
  rests.check(hm(15, 35)).foot_pulse = FootPulse::absent;
  EXPECT_EQ(why(rests, hm(15, 40), Step::stand_and_walk), "withheld.limb");
}

// A case of several punctures whose other side is contradicted: "the other puncture is not ready" must not say which side that is (law 2).
TEST(OtherSite, OfAContradictedSideNoneIsNamed) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  for (auto& e : chart.record.access_events) e.side = Side::right;
  for (auto& c : chart.record.checks) c.side = Side::right;
  auto& other = chart.procedure("p2", 5, Closure::manual, Side::left);
  other.part_of = "Procedure/p1";
  EXPECT_EQ(say(*step(chart.plan(hm(15, 30)), Step::stand_and_walk).why), "rest.other-site{side=@side.left}");
  chart.record.procedures.back().sides.push_back({Side::right, {"Device/invented", "1", false}});
  EXPECT_EQ(say(*step(chart.plan(hm(15, 30)), Step::stand_and_walk).why), "rest.other-site{side=@side.unknown}");
  chart.record.procedures.back().sides.clear();
  EXPECT_EQ(say(*step(chart.plan(hm(15, 30)), Step::stand_and_walk).why), "rest.other-site{side=@side.unknown}");
}

// Vessel unknown takes, per quantity, the larger row: of a small artery with two punctures that is the vein's (B4: 6 h of rest) and the artery's hold.
TEST(VesselUnknown, TakesTheLargerOfBothRows) {
  const auto rest = [](std::vector<Vessel> vessels, int punctures, int french = 4, Closure closure = Closure::manual) {
    Chart chart = plain_chart(french, closure);
    chart.index().vessels.clear();
    for (const auto v : vessels) chart.index().vessels.push_back({v, chart.index().source});
    chart.index().punctures = punctures;
    const auto plan = chart.plan(hm(13, 10));
    return std::pair(*step(plan, Step::stand_and_walk).planned, *step(plan, Step::raise_head).planned);
  };
  using enum Vessel;
  for (const int french : {4, 5, 6, 8})
    for (const int punctures : {1, 2})
      for (const auto closure : {Closure::manual, Closure::device}) {
        const auto artery_row = rest({artery}, punctures, french, closure), vein_row = rest({vein}, punctures, french, closure), either = rest({}, punctures, french, closure);
        EXPECT_EQ(either.first, std::max(artery_row.first, vein_row.first)) << french << " F, " << punctures;
        EXPECT_EQ(either.second, std::max(artery_row.second, vein_row.second)) << french << " F, " << punctures;
      }
}

}  // namespace
}  // namespace clinical
