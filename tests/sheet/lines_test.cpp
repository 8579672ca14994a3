// What a sheet says, case by case. The values are the plan's own: here stands that paper says the same, in words that cannot be mistaken.
#include <algorithm>

#include "lines_support.h"

namespace sheet {
namespace {

using clinical::Step;
using testing::AllOf;
using testing::Contains;
using testing::HasSubstr;
using testing::Not;

const Row* row(const Section* section, std::string_view first) {
  if (!section || !section->table) return nullptr;
  const auto found = std::ranges::find_if(section->table->rows, [&](const Row& r) { return r.cells.front().text == first; });
  return found == section->table->rows.end() ? nullptr : &*found;
}

TEST(SheetLines, WhoIsOnEveryPage) {
  const auto said = lines(resting());
  EXPECT_EQ(said.head.name, "TESTCASE, Marianne");
  EXPECT_THAT(said.head.who, testing::ElementsAre("born 1966-05-01", "record T-004711", "Recovery bay 4"));
  EXPECT_THAT(said.head.procedure, HasSubstr("Dr Invented"));
  EXPECT_THAT(said.head.flags, testing::ElementsAre("NOT APPROVED", "TEST DATA"));
}

TEST(SheetLines, UnknownPersonIsSaidToBeUnknown) {
  Case c = resting();
  c.plan.patient.name.clear();
  c.plan.patient.record_number.clear();
  c.plan.patient.birth_written.clear();
  const auto said = lines(c);
  EXPECT_THAT(said.head.name, HasSubstr("UNKNOWN - ASK"));
  EXPECT_THAT(said.head.who[0], HasSubstr("UNKNOWN - ASK"));
  EXPECT_THAT(said.head.who[1], HasSubstr("UNKNOWN - ASK"));
}

TEST(SheetLines, WaitingForTheActTheNextActIsTheCheckAndThenTheDraw) {
  const Case c = waiting_for_act();
  const auto said = lines(c);
  ASSERT_EQ(said.plates.size(), 1U);
  EXPECT_EQ(said.plates[0].side, "RIGHT groin");
  EXPECT_EQ(said.plates[0].size, "6 F, femoral artery");
  EXPECT_EQ(said.plates[0].state, "SHEATH IN");
  const auto* draw = find_step(c.plan.sites[0], Step::draw_coagulation);
  ASSERT_TRUE(draw && draw->earliest);
  EXPECT_THAT(said.next.act, HasSubstr("Check groin and foot"));
  ASSERT_FALSE(said.then.empty());
  EXPECT_THAT(said.then[0], AllOf(HasSubstr("Draw blood"), HasSubstr(clock_time(c, *draw->earliest))));
  EXPECT_EQ(said.flat.caption, "LIE FLAT NOW");
  EXPECT_EQ(said.flat.time, "no time yet") << "a length that has not begun to run must not look like a time";
  EXPECT_THAT(said.flat.strong, testing::ElementsAre("Clock not started: up 6 h after T0"));
  const auto* gates = section(said, "Sheath out now?");
  ASSERT_TRUE(gates);
  EXPECT_EQ(gates->answer, "NOT YET");
  const auto& closed = gates->table->rows;
  EXPECT_TRUE(std::ranges::any_of(closed, [](const Row& r) { return r.cells[0].text == "NO" && r.cells[0].mark == Mark::no && r.cells[1].text == "ACT"; }));
}

TEST(SheetLines, ProjectionIsAGuessAndNoPermission) {
  const Case c = waiting_for_act();
  const auto said = lines(c);
  ASSERT_TRUE(said.timeline);
  ASSERT_TRUE(said.timeline->lanes[0].band);
  EXPECT_EQ(said.timeline->lanes[0].band->from, c.plan.sites[0].projection->p10);
  EXPECT_EQ(said.timeline->lanes[0].band->to, c.plan.sites[0].projection->p90);
  EXPECT_THAT(said.timeline->lanes[0].band->label, HasSubstr("NOT a permission"));
  for (const auto& point : said.timeline->lanes[0].points) EXPECT_NE(point.label, "sheath out") << "a guess is a band, never a point with a time";
  EXPECT_EQ(row(section(said, "Steps"), "Remove the sheath")->cells[1].text, "no time yet");
  EXPECT_FALSE(lines(ready_to_pull()).timeline->lanes[0].band) << "it has happened";
}

TEST(SheetLines, EveryGateHasItsStateItsReasonAndItsEnd) {
  const Case c = waiting_for_act();
  const SheetInput in = c.input();
  const Say say(in);
  const auto said = lines(c);
  const auto* gates = section(said, "Sheath out now?");
  ASSERT_TRUE(gates);
  ASSERT_EQ(gates->table->rows.size(), c.plan.sites[0].gates.size());
  for (std::size_t i = 0; i < gates->table->rows.size(); ++i) {
    const auto& gate = c.plan.sites[0].gates[i];
    const auto& cells = gates->table->rows[i].cells;
    EXPECT_EQ(cells[2].text, say.reason(gate.why));
    EXPECT_FALSE(cells[2].text.empty());
    const bool open = gate.state == clinical::GateState::open;
    if (open && gate.expires_at) { EXPECT_THAT(cells[3].text, testing::StartsWith(say.time(*gate.expires_at))); }
  }
}

TEST(SheetLines, ReadyToPullStartsWithTheTwoAtTheGroin) {
  const auto said = lines(ready_to_pull());
  EXPECT_THAT(said.next.act, HasSubstr("Confirm"));
  EXPECT_EQ(said.next.time, "NOW");
  EXPECT_EQ(section(said, "Sheath out now?")->answer, "EVERY GATE OPEN");
}

TEST(SheetLines, WhilePressingThePhaseAndTheLog) {
  const auto said = lines(compressing());
  EXPECT_THAT(said.plates[0].state, HasSubstr("BEING PRESSED since 18:00"));
  EXPECT_THAT(said.next.act, HasSubstr("Press firmly"));
  EXPECT_EQ(said.next.time, "NOW");
  const auto* log = section(said, "Compression");
  ASSERT_TRUE(log && log->table);
  EXPECT_THAT(log->before[0], HasSubstr("set by the operator"));
  for (const auto& r : log->table->rows)
    for (const auto& cell : r.cells) EXPECT_TRUE(cell.write_in);
  EXPECT_EQ(section(said, "Sheath out now?"), nullptr);
}

TEST(SheetLines, OnlyThePhaseOfTheHoldThatTheClockHasReachedSaysNow) {
  Case c = compressing();
  for (auto& m : c.plan.sites[0].milestones)
    if (m.step == clinical::Step::partial_compression) m.status = clinical::StepStatus::due;
  const auto said = lines(c);
  const auto* steps = section(said, "Steps");
  EXPECT_THAT(row(steps, "Press firmly")->cells[1].note, HasSubstr("until 18:"));
  EXPECT_EQ(row(steps, "Press less firmly")->cells[1].note, "NOW");
  EXPECT_THAT(said.next.act, HasSubstr("Press less firmly"));
}

TEST(SheetLines, ABleedingIsTheNextActUntilHaemostasisIsConfirmedAfterIt) {
  Case c = resting();
  auto& site = c.plan.sites[0];
  c.plan.alerts.push_back({});
  auto& alert = c.plan.alerts.back();
  alert.trigger = "site-bleeding";
  alert.level = clinical::AlertLevel::emergency;
  alert.site = site.key;
  alert.why = {"alert.site-bleeding", {{"at", *site.t0}}};
  alert.since = *site.t0;
  site.last_check.reset();
  auto said = lines(c);
  EXPECT_THAT(said.next.act, HasSubstr("press, keep the patient flat, call"));
  EXPECT_EQ(said.next.time, "NOW");
  EXPECT_EQ(said.flat.time, "no time yet") << "no hour stands beside a bleeding";
  site.last_check.emplace();
  site.last_check->at = clinical::Moment{*site.t0 + clinical::minutes{15}, *site.t0 + clinical::minutes{15}};
  site.last_check->bleeding = clinical::Bleeding::none;
  site.last_check->swelling = clinical::Value{};
  site.last_check->growth = false;
  site.last_check->foot_pulse = clinical::FootPulse::as_baseline;
  said = lines(c);
  EXPECT_THAT(said.alerts[0].items[0].note, HasSubstr("Recorded as well at 18:40"));
  EXPECT_THAT(said.next.act, HasSubstr("press, keep the patient flat, call")) << "one dry look does not end it";
  alert.since = *site.t0 - clinical::minutes{20};
  EXPECT_THAT(lines(c).next.act, HasSubstr("Check groin and foot")) << "pressed, and haemostasis confirmed after it";
  for (const char* other : {"limb-ischaemia", "retroperitoneal-bleed", "swelling"}) {
    alert.trigger = other;
    said = lines(c);
    EXPECT_THAT(said.alerts[0].items[0].note, "") << "a dry groin says nothing of " << other;
    EXPECT_THAT(said.next.act, Not(HasSubstr("Check groin and foot"))) << other;
    EXPECT_THAT(said.next.act, Not(HasSubstr("press"))) << other;
  }
}

/// Every text of a sheet, with those of its tables and its picture.
std::vector<std::string> all_texts(const SheetLines& said) {
  std::vector<std::string> all{said.timeline ? said.timeline->key : ""};
  for (const auto* word : {&said.next, &said.flat}) {
    all.insert(all.end(), {word->caption, word->act, word->time, word->detail});
    all.insert(all.end(), word->strong.begin(), word->strong.end());
  }
  all.insert(all.end(), said.then.begin(), said.then.end());
  if (said.timeline)
    for (const auto& lane : said.timeline->lanes) {
      for (const auto& point : lane.points) all.push_back(point.time);
      for (const auto& later : lane.later) all.push_back(later.time);
    }
  for (const auto& section : said.sections) {
    all.insert(all.end(), section.before.begin(), section.before.end());
    if (section.block == Block::checks || !section.table) continue;   // a check is due at these times, and is made
    for (const auto& row : section.table->rows)
      for (const auto& cell : row.cells) all.insert(all.end(), {cell.text, cell.note});
  }
  return all;
}

// While an emergency is open nobody reads from paper when the patient may sit, stand or go; the plan keeps its clocks.
TEST(SheetLines, NoHourOfGettingUpStandsBesideAnEmergency) {
  for (const bool settled : {true, false}) {
    const Case c = settled ? resting() : emergency();
    const auto said = lines(c);
    const auto texts = all_texts(said);
    int told = 0;
    for (const auto step : {Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check}) {
      const auto* m = find_step(c.plan.sites[0], step);
      ASSERT_TRUE(m && m->earliest);
      told += std::ranges::any_of(texts, [&](const std::string& text) { return text.find(clock_time(c, *m->earliest)) != std::string::npos; });
    }
    EXPECT_EQ(told, settled ? 4 : 0);
    if (settled) continue;
    EXPECT_THAT(said.next.act, HasSubstr("call for help"));
    EXPECT_THAT(said.flat.strong, testing::ElementsAre("NOT UP and no sheath out before the emergency is settled"));
    EXPECT_THAT(said.timeline->key, HasSubstr("NOT UP"));
    const auto* walk = row(section(said, "Steps"), "Stand and walk");
    ASSERT_TRUE(walk);
    EXPECT_EQ(walk->cells[1].text, "no time yet");
    EXPECT_EQ(walk->cells[2].text, "");
  }
}

TEST(SheetLines, RestingSaysUntilWhen) {
  const Case c = resting();
  const auto said = lines(c);
  ASSERT_TRUE(c.plan.up_at);
  EXPECT_EQ(said.flat.caption, "LIE FLAT");
  EXPECT_EQ(said.flat.time, "20:25") << "flat until the head may come up, not until the walk";
  EXPECT_THAT(said.flat.strong, testing::ElementsAre(AllOf(HasSubstr("head up from 20:25"), HasSubstr("sitting from 23:55")), "NOT UP before 3 Mar 00:25"));
  EXPECT_THAT(said.plates[0].state, HasSubstr("DRY since 18:25"));
  const auto* steps = section(said, "Steps");
  EXPECT_THAT(said.next.act, HasSubstr("Check groin and foot")) << "the check comes before the head is raised";
  const auto* head = row(steps, "Raise the head of the bed");
  ASSERT_TRUE(head);
  EXPECT_EQ(head->cells[1].text, "20:25");
  EXPECT_EQ(head->cells[2].text, "+ 2 h");
  EXPECT_TRUE(head->cells[4].write_in) << "the actual time is blank until it is recorded";
  EXPECT_EQ(row(steps, "Take the compression off, confirm haemostasis")->cells[4].text, "18:25");
}

TEST(SheetLines, WhenToCallHasARowForEveryPressureThatIsTold) {
  const auto said = lines(resting());
  EXPECT_TRUE(says(said, "150 mmHg or more before the sheath comes out, 160 mmHg or more on bed rest"));
}

TEST(SheetLines, ChecksHaveTheirTimesAndBlanks) {
  const Case c = resting();
  const SheetInput in = c.input();
  const auto said = lines(c);
  const auto* checks = section(said, "Checks");
  ASSERT_TRUE(checks);
  for (const auto& m : c.plan.sites[0].milestones) {
    if (m.step != Step::check_site || m.status == clinical::StepStatus::done || m.status == clinical::StepStatus::cancelled) continue;
    const auto* line = row(checks, Say(in).time(*m.earliest));
    ASSERT_TRUE(line) << Say(in).time(*m.earliest);
    EXPECT_EQ(std::ranges::count_if(line->cells, &Cell::write_in), 8) << "done, BP, HR, groin, swelling, foot pulse, limb, initials";
  }
}

TEST(SheetLines, RebleedStartsTheClockAnew) {
  const auto said = lines(rebleed());
  EXPECT_THAT(said.plates[0].state, HasSubstr("BEING PRESSED since 19:50"));
  EXPECT_THAT(said.plates[0].events, testing::ElementsAre("REBLED 19:50"));
  EXPECT_THAT(said.flat.strong, testing::ElementsAre("Clock not started: up 8 h after T0")) << "cautious: 6 h and 2 h for the rebleed";
  ASSERT_FALSE(said.alerts.empty());
  EXPECT_THAT(said.alerts[0].items[0].text, HasSubstr("RIGHT: Rebleed"));
}

TEST(SheetLines, ARebleedStaysOnTheFrontAfterTheNextHaemostasis) {
  const auto said = lines(dry_again());
  EXPECT_THAT(said.plates[0].state, HasSubstr("DRY since 20:15"));
  EXPECT_THAT(said.plates[0].events, testing::ElementsAre("REBLED 19:50"));
  EXPECT_TRUE(lines(resting()).plates[0].events.empty());
}

TEST(SheetLines, ClosureIsSaidAsToComeUntilItHasBegun) {
  EXPECT_THAT(lines(waiting_for_act()).plates[0].more, Contains("To be pressed by hand"));
  EXPECT_THAT(lines(compressing()).plates[0].more, Contains("Pressed by hand"));
  EXPECT_THAT(lines(resting()).plates[0].more, Contains("Pressed by hand"));
  Case c = waiting_for_act();
  for (const auto& [closure, words] : {std::pair{clinical::Closure::mechanical, "To be pressed by mechanical compression"},
                                       {clinical::Closure::device, "To be closed by a closure device"}, {clinical::Closure::suture, "To be closed by suture"}}) {
    c.plan.sites[0].closure = closure;
    EXPECT_THAT(lines(c).plates[0].more, Contains(words));
  }
}

TEST(SheetLines, TheCloserWatchNamesItsReasons) {
  EXPECT_THAT(lines(rebleed()).plates[0].more, Contains(testing::AllOf(HasSubstr("Closer watch, more checks than usual, because of: "), HasSubstr("rebleed"))));
  EXPECT_THAT(lines(size_missing()).plates[0].more, Contains(HasSubstr("because of: no times are given")));
}

TEST(SheetLines, AsBeforeIsNoComfortWhereNobodyRecordedWhatWasBefore) {
  Case c = resting();
  EXPECT_THAT(lines(c).plates[0].more, Contains(testing::EndsWith(", foot pulse as before")));
  c.plan.sites[0].baseline_pulses.clear();
  EXPECT_THAT(lines(c).plates[0].more, Contains(HasSubstr("foot pulse recorded 'as before', but what was before is not recorded")));
}

TEST(SheetLines, OneHaemoglobinAsksForASecondOne) {
  const auto said = lines(waiting_for_act());
  EXPECT_THAT(said.unknown.back().items, Contains(testing::Field(&Callout::Item::text, "Laboratory: a second haemoglobin, to see a fall")));
  EXPECT_THAT(said.unknown.back().items, testing::Not(Contains(testing::Field(&Callout::Item::text, "Laboratory: haemoglobin"))));
}

TEST(SheetLines, AValueKnownByItsDayAloneHasNoHour) {
  const auto said = lines(day_only_inr());
  const auto* inr = row(section(said, "Laboratory"), "INR");
  ASSERT_TRUE(inr);
  EXPECT_EQ(inr->cells[2].text, "2 Mar, time not recorded");
  EXPECT_TRUE(says(said, "drawn 2 Mar, time not recorded"));
  EXPECT_FALSE(says(said, "drawn 00:00"));
}

TEST(SheetLines, AValueFromTheFutureIsNamed) {
  Case c = resting();
  c.plan.conflicts.push_back({clinical::Fact::inr, "future-time", {"1.1"}, {}, {}});
  EXPECT_TRUE(says(lines(c), "A time lies in the future: INR 1.1"));
}

// What the row shows as its clock, in minutes of the day; none: a length or words.
std::optional<int> minute_of(const Row& r) {
  int hour = 0, minute = 0;
  const std::string& text = r.cells[1].text;
  const auto at = text.find(':');
  if (at == std::string::npos || at < 2 || std::sscanf(text.c_str() + at - 2, "%2d:%2d", &hour, &minute) != 2) return std::nullopt;
  return (text.find(" Mar") != std::string::npos ? 24 * 60 : 0) + hour * 60 + minute;
}

TEST(SheetLines, StepsStandInOrderOfTime) {
  for (const auto& c : {ready_to_pull(), compressing(), resting(), rebleed(), dry_again()}) {
    const auto said = lines(c);
    std::optional<int> last;
    for (const auto& r : section(said, "Steps")->table->rows)
      if (const auto now = minute_of(r)) {
        EXPECT_LE(last.value_or(0), *now) << c.name << ": " << r.cells[0].text;
        last = now;
      }
    EXPECT_TRUE(last) << c.name;
  }
}

TEST(SheetLines, MissingSizeIsAskedForInLargeType) {
  const auto said = lines(size_missing());
  EXPECT_THAT(said.plates[0].size, HasSubstr("SIZE UNKNOWN - ASK"));
  EXPECT_TRUE(says(said, "Closure: UNKNOWN - ASK"));
  ASSERT_FALSE(said.unknown.empty());
  EXPECT_EQ(said.unknown.back().title, "UNKNOWN - ASK");
  EXPECT_THAT(said.unknown.back().items, Contains(testing::Field(&Callout::Item::text, "Operator: sheath size")));
  EXPECT_TRUE(says(said, "UNKNOWN - a clinician sets it")) << "no length of hold";
  EXPECT_EQ(section(said, "Why so long"), nullptr) << "no reason for a length that is not given";
}

TEST(SheetLines, ContradictedSideIsNoSide) {
  const auto said = lines(side_contradicted());
  EXPECT_EQ(said.plates[0].side, "SIDE UNKNOWN - ASK");
  EXPECT_EQ(said.figure.spots[0].side, clinical::Side::unknown);
  EXPECT_EQ(said.unknown.front().title, "THE RECORD CONTRADICTS ITSELF");
  EXPECT_TRUE(says(said, "Side: left / right"));
  EXPECT_FALSE(says(said, "RIGHT groin"));
  EXPECT_FALSE(says(said, "LEFT groin"));
}

TEST(SheetLines, TwoSitesAreTwoPlatesTwoLanesTwoGrids) {
  const Case c = artery_and_vein();
  const auto said = lines(c);
  ASSERT_EQ(said.plates.size(), 2U);
  EXPECT_EQ(said.plates[0].side, "RIGHT groin");
  EXPECT_EQ(said.plates[1].side, "LEFT groin");
  EXPECT_EQ(said.timeline->lanes.size(), 2U);
  EXPECT_TRUE(section(said, "Checks of groin and foot: RIGHT femoral artery"));
  EXPECT_TRUE(section(said, "Checks of groin and foot: LEFT femoral vein"));
  EXPECT_FALSE(c.plan.up_at) << "nobody gets up while a sheath is in";
}

TEST(SheetLines, VoidSheetSaysWhichSheetOfWhichGroinAndWhyAndNothingElse) {
  Case c = withdrawn();
  auto said = lines(c);
  EXPECT_EQ(said.void_title, "VOID");
  EXPECT_TRUE(said.sections.empty() && said.alerts.empty() && !said.timeline);
  EXPECT_EQ(said.foot.use_before, "Do not use");
  EXPECT_TRUE(said.plates.empty()) << "no side that looks like the right one";
  EXPECT_THAT(said.head.procedure, HasSubstr("Coronary stent, invented"));
  EXPECT_EQ(said.head.who.back(), "Recovery bay 4");
  EXPECT_EQ(said.void_lines.front(), "This voids sheet 2 of 18:25 and every earlier sheet of this case.");
  EXPECT_EQ(said.void_lines[1], "The void sheet says: RIGHT groin, 6 F, femoral artery.");
  EXPECT_EQ(said.void_lines[2], c.void_reason);
  EXPECT_THAT(said.void_lines, Contains(HasSubstr("Keep the patient flat, the leg straight, until a new sheet hangs here")));
  c.plan.sites.clear();
  EXPECT_THAT(lines(c).void_lines[1], HasSubstr("SIDE UNKNOWN - ASK"));
}

TEST(SheetLines, EachGateSaysHowOldItsValueIs) {
  // waiting_for_act is made at 14:25 local time; ACT, pressure, rate and the look are of 14:20, the blood counts of 13:10.
  const auto said = lines(waiting_for_act());
  const auto* gates = section(said, "Sheath out now?");
  ASSERT_TRUE(gates);
  const auto age = [&](const std::string& name) {
    for (const auto& r : gates->table->rows)
      if (r.cells[1].text == name) return r.cells[3].text;
    return std::string("no such gate");
  };
  EXPECT_EQ(age("ACT"), "5 min old") << "a NO has no end by the clock";
  EXPECT_EQ(age("Blood pressure"), "14:35, 5 min old");
  EXPECT_EQ(age("Groin and foot"), "14:35, 5 min old");
  EXPECT_EQ(age("Platelets"), "3 Mar 13:10, 1 h 15 min old");
  EXPECT_EQ(age("Access"), "") << "what has no time has no age";
}

TEST(SheetLines, APermissionEndsWithTheFirstOfItsGates) {
  const Case c = ready_to_pull();
  const auto said = lines(c);
  std::optional<Instant> first;
  for (const auto& gate : c.plan.sites[0].gates)
    if (gate.expires_at && (!first || *gate.expires_at < *first)) first = gate.expires_at;
  ASSERT_TRUE(first);
  ASSERT_LT(*first, *c.plan.valid_until);
  EXPECT_THAT(said.next.strong, testing::ElementsAre("ONLY UNTIL " + clock_time(c, *first) + ", then check again"));
  EXPECT_EQ(said.foot.use_before, "Do not use after " + clock_time(c, *first));
  EXPECT_TRUE(lines(waiting_for_act()).next.strong.empty());
}

}  // namespace
}  // namespace sheet
