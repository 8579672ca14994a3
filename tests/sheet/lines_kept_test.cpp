// What a sheet says, continued: getting up held back, whom to call, pressing, units, clock change, antegrade and vein.
#include <algorithm>

#include "lines_support.h"

namespace sheet {
namespace {

using clinical::Step;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;

TEST(SheetLines, WithTheSheathInThePatientLiesFlatWhateverIsUnknown) {
  for (const Case& c : {size_missing(), side_contradicted()}) EXPECT_EQ(lines(c).flat.caption, "LIE FLAT NOW") << c.name;
}

TEST(SheetLines, AfterTheFlatTimeTheHeadStaysLow) {
  Case c = resting();
  for (auto& m : c.plan.sites[0].milestones)
    if (m.step == Step::raise_head) m.status = clinical::StepStatus::due;
  const auto said = lines(c);
  EXPECT_EQ(said.flat.caption, "STAY IN BED");
  EXPECT_EQ(said.flat.act, "head at most 30°, until");
  EXPECT_EQ(said.flat.time, "23:55");
}

TEST(SheetLines, WhileAStageIsHeldBackTheOneBeforeItGoesOn) {
  Case c = resting();
  for (auto& m : c.plan.sites[0].milestones)
    if (m.step == Step::raise_head) m.status = clinical::StepStatus::blocked, m.earliest.reset();
  auto said = lines(c);
  EXPECT_EQ(said.flat.caption, "LIE FLAT") << "the head may not come up";
  EXPECT_EQ(said.flat.time, "no time yet");
  EXPECT_THAT(said.flat.strong, testing::ElementsAre("NOT UP before 3 Mar 00:25"));
  for (auto& m : c.plan.sites[0].milestones) {
    if (m.step == Step::raise_head) m.status = clinical::StepStatus::done;
    if (m.step == Step::sit_up) m.status = clinical::StepStatus::blocked, m.earliest.reset();
  }
  said = lines(c);
  EXPECT_EQ(said.flat.caption, "STAY IN BED");
  EXPECT_THAT(said.flat.act, HasSubstr("head at most 30°"));
  EXPECT_EQ(said.flat.time, "no time yet");
}

TEST(SheetLines, ALookBeforeARebleedIsNoLookAfterIt) {
  EXPECT_THAT(lines(rebleed()).plates[0].more, Contains(HasSubstr("NO CHECK SINCE THE REBLEED. Last one before it 18:40")));
}

TEST(SheetLines, WhomToCallStandsOnEveryPage) {
  Case c = resting();
  EXPECT_THAT(lines(c).foot.bleeding, HasSubstr("Call: UNKNOWN - ASK"));
  clinical::Protocol protocol = clinical::cautious();
  for (auto& [key, text] : protocol.local)
    if (key == "call-number") text = "4711";
  SheetInput in{c.plan, protocol, english(), layout_named("A4"), {}};
  in.as_of = c.as_of;
  EXPECT_THAT(lines_of(in, fonts()).foot.bleeding, AllOf(HasSubstr("Call: 4711"), HasSubstr("Emergency: UNKNOWN - ASK")));
}

TEST(SheetLines, AContradictedSideIsSaidInTheLanguageOfTheSheet) {
  Case c = side_contradicted();
  c.language = "de";
  EXPECT_TRUE(says(lines(c), "links"));
  EXPECT_FALSE(says(lines(c), "left / right"));
}

TEST(SheetLines, FootNamesWhatTheSheetRestsOn) {
  const Case c = resting();
  const auto said = lines(c);
  EXPECT_EQ(said.foot.use_before, "Do not use after " + clock_time(c, *c.plan.valid_until));
  EXPECT_TRUE(says(said, "Data as of 18:45"));
  EXPECT_TRUE(says(said, "Takes the place of sheet 2 of 18:25"));
  EXPECT_TRUE(says(said, "Protocol cautious " + clinical::cautious().version + ", sha256 " + clinical::cautious().sha256.substr(0, 12)));
  EXPECT_TRUE(says(said, "2 Mar 2026, zone Europe/Berlin"));
  EXPECT_THAT(said.foot.honest, HasSubstr("Supports licensed clinicians"));
  EXPECT_THAT(said.foot.bleeding, HasSubstr("lay the patient flat"));
}

TEST(SheetLines, EveryAddedMinuteAndHourHasItsReason) {
  const Case c = rebleed();
  const SheetInput in = c.input();
  const auto said = lines(c);
  for (const auto step : {Step::end_compression, Step::stand_and_walk})
    for (const auto& basis : find_step(c.plan.sites[0], step)->basis) EXPECT_TRUE(says(said, Say(in).reason(basis.arithmetic)));
}

TEST(SheetLines, LimitsForCallingAreTheProtocols) {
  const Case c = resting();
  const auto said = lines(c);
  EXPECT_TRUE(says(said, "Swelling 5 cm or more")) << "cautious: alert from the haematoma limit of most trials, e.g. PMID 18513345";
  EXPECT_TRUE(says(said, "Systolic under 80 mmHg")) << "common practice, no source";
}

TEST(SheetLines, UnitsStandAsPeopleWriteThem) {
  Case c = resting();
  ASSERT_FALSE(c.plan.shown_doses.empty());
  c.plan.shown_doses.front().dose->amount.written = "7500 [iU]";
  EXPECT_TRUE(says(lines(c), "7500 U"));
  EXPECT_TRUE(says(lines(c), "220 x 10⁹/L"));
  EXPECT_FALSE(says(lines(c), "[iU]"));
}

TEST(SheetLines, ADueCallStandsAboveTheSteps) {
  const auto said = lines(size_missing());
  EXPECT_EQ(section(said, "Steps")->table->rows.front().cells[0].text, said.next.act);
}

TEST(SheetLines, RecordedPressingIsPrinted) {
  Case c = compressing();
  clinical::AccessEvent lowered;
  lowered.kind = clinical::AccessEventKind::pressure_changed;
  lowered.at = clinical::exactly(c.as_of - std::chrono::minutes{1});
  lowered.pressure = clinical::Value{clinical::whole(120), {}, "120 mm[Hg]"};
  c.plan.sites[0].compression_log.push_back(lowered);
  EXPECT_TRUE(says(lines(c), "18:03 pressure changed, 120 mmHg"));
}

TEST(SheetLines, RehearsalAndApprovalAreSaid) {
  Case c = resting();
  clinical::Protocol approved = clinical::cautious();
  approved.approved = true;
  c.plan.patient.test_data = false;
  SheetInput in{c.plan, approved, english(), layout_named("A4"), {}};
  in.as_of = c.as_of;
  EXPECT_TRUE(lines_of(in, fonts()).head.flags.empty());
  in.rehearsal = true;
  EXPECT_THAT(lines_of(in, fonts()).head.flags, testing::ElementsAre("REHEARSAL"));
}

// Berlin leaves winter time on 29 March 2026 at 01:00 UTC (IANA time zone database, Europe/Berlin).
TEST(SheetLines, OnANightOfClockChangeTheOffsetStandsWithTheTime) {
  Case c = resting();
  c.as_of = std::chrono::sys_days{std::chrono::year{2026} / 3 / 29} - std::chrono::minutes{30};
  c.plan.up_at = c.as_of + std::chrono::hours{2};
  for (auto& m : c.plan.sites[0].milestones)
    if (m.step == Step::raise_head || m.step == Step::sit_up) m.status = clinical::StepStatus::due;
  const auto said = lines(c);
  EXPECT_EQ(said.flat.time, "03:30 (UTC+2)");
  EXPECT_TRUE(said.flat.day.empty());
}

// An antegrade sheath points down the leg: the hole in the vessel lies below the one in the skin (common practice, no source), so that pressing above misses it.
TEST(SheetLines, AnAntegradePunctureIsNowherePressedAboveTheSkinHole) {
  for (Case c : {waiting_for_act(), compressing(), resting(), withdrawn()}) {
    c.plan.sites[0].direction = clinical::Direction::antegrade;
    const auto said = lines(c);
    EXPECT_FALSE(says(said, "above the skin hole, ")) << c.name;
    EXPECT_THAT(said.foot.bleeding, HasSubstr("BELOW the skin hole")) << c.name;
    if (said.void_title.empty()) { EXPECT_THAT(said.plates[0].events, Contains("ANTEGRADE: vessel hole BELOW skin hole. Press where the operator shows")) << c.name; }
    else { EXPECT_THAT(said.void_lines.back(), HasSubstr("BELOW the skin hole")); }
  }
  Case pressed = compressing();
  pressed.plan.sites[0].direction = clinical::Direction::antegrade;
  EXPECT_THAT(section(lines(pressed), "Compression")->before, Contains(HasSubstr("Press where the operator shows, not above the skin hole")));
}

// A vein lies beside the artery on its inner side, and is punctured towards the heart: anatomy.
TEST(SheetLines, AVeinIsPressedBesideThePulse) {
  Case c = compressing();
  c.plan.sites[0].vessel = clinical::Vessel::vein;
  c.plan.sites[0].direction = clinical::Direction::antegrade;
  const auto said = lines(c);
  EXPECT_THAT(section(said, "Compression")->before, Contains(HasSubstr("beside the pulse on its inner side, not on it")));
  EXPECT_FALSE(says(said, "over the pulse"));
  EXPECT_THAT(said.foot.bleeding, HasSubstr("just above the skin hole, beside the pulse"));
  EXPECT_TRUE(says(lines(compressing()), "Press above the skin hole, over the pulse."));
}

TEST(SheetLines, OfTwoGroinsTheAntegradeOneIsNamedInTheFoot) {
  Case c = artery_and_vein();
  EXPECT_THAT(lines(c).foot.bleeding, HasSubstr("press above the skin hole,"));
  c.plan.sites[0].direction = clinical::Direction::antegrade;
  EXPECT_THAT(lines(c).foot.bleeding, HasSubstr("over the hole in the vessel (antegrade puncture: BELOW the skin hole"));
}

TEST(SheetLines, ASheathThatIsStillInIsNotSaidToBeOut) {
  for (const Case& c : {ready_to_pull(), waiting_for_act()})
    for (const auto& point : lines(c).timeline->lanes[0].points) EXPECT_NE(point.label, "sheath out") << c.name;
  EXPECT_THAT(lines(ready_to_pull()).timeline->lanes[0].points, Contains(testing::Field(&Timeline::Point::label, "may come out")));
  EXPECT_THAT(lines(compressing()).timeline->lanes[0].points, Contains(testing::Field(&Timeline::Point::label, "sheath out")));
}

TEST(SheetLines, NoSwellingIsNoSwellingOfNothing) {
  const auto said = lines(resting());
  EXPECT_THAT(said.plates[0].more, Contains(HasSubstr(", no swelling,")));
  EXPECT_FALSE(says(said, "swelling 0"));
  EXPECT_FALSE(says(lines(ready_to_pull()), "swelling 0"));
}

TEST(SheetLines, TheOpenGroinGateSaysWhatWasFound) {
  EXPECT_TRUE(says(lines(ready_to_pull()), "Groin and foot checked at 17:50: dry, no swelling, nothing growing, pulses as before."));
}

TEST(SheetLines, NoSentenceIsMissing) {
  for (const auto& c : all_cases()) EXPECT_THAT(texts_of(lines(c)), testing::Each(testing::Not(testing::StartsWith("[")))) << c.name;
  EXPECT_THAT(english().missing(), testing::IsEmpty());
}

}  // namespace
}  // namespace sheet
