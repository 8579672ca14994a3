// Whole plans, every milestone in full, each time as arithmetic beside it. Lengths: 6 F with an intervention: hold min(30, max(15, 3 * 6 = 18 -> 20)), floor 20, as
// 12 firm + 5 partial + 3 light; rest 6 h, head 2 h, sitting 6 h - 30 min, discharge 60 min after the walk and not before 6 h (clinical model, sources there).
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using Lines = std::vector<std::string>;

Lines lines_of(const CasePlan& plan, std::size_t site = 0) {
  Lines lines;
  for (const auto& m : plan.sites.at(site).milestones) lines.push_back(std::string(name_of(m.step)) + ": " + say(m));
  return lines;
}
/// Of the missing facts, conflicts and alerts.
Lines open_points(const CasePlan& plan) {
  Lines lines;
  for (const auto& m : plan.missing) lines.push_back("missing " + say(m));
  for (const auto& c : plan.conflicts) lines.push_back("conflict " + say(c));
  for (const auto& a : plan.alerts) lines.push_back(a.trigger + " " + say(a));
  return lines;
}

/// Everything good at 14:55, the sheath in since 12:00, the procedure ended at 13:00.
Chart ready_chart(int french = 6, Closure closure = Closure::manual) {
  auto chart = intervention_chart(french, closure);
  chart.pressure(128, hm(14, 55));
  chart.lab(Analyte::heart_rate, 70, hm(14, 55));
  chart.lab(Analyte::act, 140, hm(14, 55));
  chart.check(hm(14, 55));
  return chart;
}
Chart pressed_at_1512() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  return chart;
}
Chart dry_at_1532() {
  Chart chart = pressed_at_1512();
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}

// Checks: from 13:00 every 15 min four times, then hourly, to the first after 15:00 + 2 h. The one of 14:55 counts for 14:00 (until 15:00) and for 15:00 (from 14:53).
TEST(PlanSays, SheathInAndEveryGateOpen) {
  const auto plan = ready_chart().plan(hm(15));
  EXPECT_EQ(lines_of(plan), (Lines{
      "provide-missing: due 12:00 released | missing.ask",
      "confirm-readiness: due from 14:55 released | removal.due",
      "remove-sheath: due from 14:55 | removal.due",
      "firm-compression: blocked 12min | hold.after-sheath-out",
      "partial-compression: blocked 5min | hold.after-sheath-out",
      "light-compression: blocked 3min | hold.after-sheath-out",
      "end-compression: blocked 20min | hold.after-sheath-out",
      "dress-site: expected t0+0",
      "check-site: cancelled #1 from 13:15 latest 13:25 | watch.missed{at=13:15}",
      "check-site: cancelled #2 from 13:30 latest 13:40 | watch.missed{at=13:30}",
      "check-site: cancelled #3 from 13:45 latest 13:55 | watch.missed{at=13:45}",
      "check-site: done #4 from 14:00 latest 14:10 actual 14:55",
      "check-site: done #5 from 15:00 latest 15:10 actual 14:55",
      "check-site: expected #6 from 16:00 latest 16:10 released",
      "check-site: expected #7 from 17:00 latest 17:10 released",
      "check-site: expected #8 from 18:00 latest 18:10",
      "raise-head: expected 120min t0+120 | rest.sheath-in",
      "sit-up: expected 330min t0+330 | rest.sheath-in",
      "stand-and-walk: expected 360min t0+360 | rest.sheath-in",
      "check-after-walk: expected #1 t0+375 | rest.not-walked",
      "check-after-walk: expected #2 t0+390 | rest.not-walked",
      "check-after-walk: expected #3 t0+420 | rest.not-walked",
      "ask-anticoagulant-plan: expected t0+360",
      "discharge-check: expected 420min t0+420 | rest.sheath-in"}));
  // Three checks missed in a row; two made since (14:00 and 15:00 by one look).
  EXPECT_EQ(open_points(plan), (Lines{"missing haemoglobin laboratory second-haemoglobin"}));
  EXPECT_EQ(plan.valid_until, hm(17));
  EXPECT_EQ(plan.state, CaseState::sheath_in);
}

// 15:12 + 12, + 17, + 20 min; checks every 5 min from 15:12 to the first open one after 15:32.
TEST(PlanSays, UnderTheHand) {
  const auto plan = pressed_at_1512().plan(hm(15, 25));
  EXPECT_EQ(lines_of(plan), (Lines{
      "confirm-readiness: cancelled",
      "remove-sheath: done actual 15:12",
      "firm-compression: due 15:12 12min released",
      "partial-compression: due 15:24 5min released",
      "light-compression: expected 15:29 3min released",
      "end-compression: expected 15:32 20min released",
      "dress-site: expected t0+0",
      "check-site: cancelled #1001 from 15:17 latest 15:27 | watch.missed{at=15:17}",
      "check-site: due #1002 from 15:22 latest 15:32 released",
      "check-site: expected #1003 from 15:27 latest 15:37 released",
      "check-site: expected #1004 from 15:32 latest 15:42 released",
      "check-site: expected #1005 from 15:37 latest 15:47 released",
      "raise-head: expected 120min t0+120 | rest.after-haemostasis",
      "sit-up: expected 330min t0+330 | rest.after-haemostasis",
      "stand-and-walk: expected 360min t0+360 | rest.after-haemostasis",
      "check-after-walk: expected #1 t0+375 | rest.not-walked",
      "check-after-walk: expected #2 t0+390 | rest.not-walked",
      "check-after-walk: expected #3 t0+420 | rest.not-walked",
      "ask-anticoagulant-plan: expected t0+360",
      "discharge-check: expected 420min t0+420 | rest.after-haemostasis"}));
  EXPECT_EQ(open_points(plan), Lines{});
}

// T0 15:32: head 17:32, sitting 21:02, walking 21:32, discharge 22:32 (15:32 + 6 h = 21:32 is sooner), checks after the walk 21:47, 22:02, 22:32; the question for
// the anticoagulants 15:32 + 6 h. Checks: 15 min four times, 30 min four times, hourly four times, then 4 h, and at the four getting-up times.
TEST(PlanSays, AtRest) {
  auto chart = dry_at_1532();
  chart.done(Step::firm_compression, hm(15, 24));
  chart.check(hm(15, 47));
  const auto plan = chart.plan(hm(15, 50));
  EXPECT_EQ(lines_of(plan), (Lines{
      "confirm-readiness: cancelled",
      "remove-sheath: done actual 15:12",
      "firm-compression: done actual 15:24 12min",
      "partial-compression: cancelled 5min | hold.phase-not-recorded",
      "light-compression: cancelled 3min | hold.phase-not-recorded",
      "end-compression: done actual 15:32 20min",
      "dress-site: due 15:32 t0+0 released",
      "check-site: done #1 from 15:47 latest 15:57 actual 15:47 t0+15",
      "check-site: expected #2 from 16:02 latest 16:12 t0+30 released",
      "check-site: expected #3 from 16:17 latest 16:27 t0+45 released",
      "check-site: expected #4 from 16:32 latest 16:42 t0+60 released",
      "check-site: expected #5 from 17:02 latest 17:12 t0+90 released",
      "check-site: expected #6 from 17:32 latest 17:42 t0+120 released",
      "check-site: expected #7 from 18:02 latest 18:12 t0+150",
      "check-site: expected #8 from 18:32 latest 18:42 t0+180",
      "check-site: expected #9 from 19:32 latest 19:42 t0+240",
      "check-site: expected #10 from 20:32 latest 20:42 t0+300",
      "check-site: expected #3002 from 21:02 latest 21:12 t0+330",
      "check-site: expected #11 from 21:32 latest 21:42 t0+360",
      "check-site: expected #12 from 22:32 latest 22:42 t0+420",
      "check-site: expected #13 from +1d 02:32 latest +1d 02:42 t0+660",
      "check-site: expected #14 from +1d 06:32 latest +1d 06:42 t0+900",
      "check-site: expected #15 from +1d 10:32 latest +1d 10:42 t0+1140",
      "check-site: expected #16 from +1d 14:32 latest +1d 14:42 t0+1380",
      "raise-head: expected 17:32 120min t0+120 released",
      "sit-up: expected 21:02 330min t0+330",
      "stand-and-walk: expected 21:32 360min t0+360",
      "check-after-walk: expected #1 21:47 t0+375 | rest.not-walked",
      "check-after-walk: expected #2 22:02 t0+390 | rest.not-walked",
      "check-after-walk: expected #3 22:32 t0+420 | rest.not-walked",
      "ask-anticoagulant-plan: expected 21:32 t0+360",
      "discharge-check: expected 22:32 420min t0+420"}));
  EXPECT_EQ(plan.up_at, hm(21, 32));
  EXPECT_EQ(plan.up_site, "Procedure/p1");
  EXPECT_EQ(plan.state, CaseState::resting);
  EXPECT_EQ(say(plan.sites[0].compression_started), "15:12");
  EXPECT_EQ(plan.sites[0].haemostases, 1);
}

// Walked at 21:40: checks 21:55, 22:10, 22:40, discharge 22:40; sitting was not recorded and no longer applies.
TEST(PlanSays, AfterTheWalk) {
  auto chart = dry_at_1532();
  chart.done(Step::raise_head, hm(17, 35));
  chart.done(Step::stand_and_walk, hm(21, 40));
  chart.done(Step::dress_site, hm(15, 40));
  chart.done(Step::ask_anticoagulant_plan, hm(21, 45));
  chart.check(hm(21, 50));
  chart.pressure(125, hm(22, 35));
  chart.check(hm(22, 37));
  const auto plan = chart.plan(hm(22, 41));
  Lines lines = lines_of(plan);
  std::erase_if(lines, [](const std::string& line) { return line.starts_with("check-site"); });
  EXPECT_EQ(lines, (Lines{
      "confirm-readiness: cancelled",
      "remove-sheath: done actual 15:12",
      "firm-compression: cancelled 12min | hold.phase-not-recorded",
      "partial-compression: cancelled 5min | hold.phase-not-recorded",
      "light-compression: cancelled 3min | hold.phase-not-recorded",
      "end-compression: done actual 15:32 20min",
      "dress-site: done actual 15:40",
      "raise-head: done actual 17:35 120min t0+120",
      "sit-up: cancelled 330min t0+330 | rest.walked{at=21:40}",
      "stand-and-walk: done actual 21:40 360min t0+360",
      "check-after-walk: done #1 actual 21:50 t0+375",
      "check-after-walk: done #2 actual 22:37 t0+390",
      "check-after-walk: done #3 actual 22:37 t0+420",
      "ask-anticoagulant-plan: done actual 21:45 t0+360",
      "discharge-check: due 22:40 420min t0+420 released"}));
  EXPECT_EQ(plan.up_at, hm(21, 40));
  EXPECT_EQ(plan.state, CaseState::walking);
}

TEST(PlanSays, TheArithmeticOfRestAndHold) {
  auto chart = dry_at_1532();
  const auto plan = chart.plan(hm(15, 50));
  EXPECT_EQ(say(step(plan, Step::end_compression).basis), (Lines{
      "hold.artery.per-french hold.base{french=6 each=3min step=5min total=20min} from Procedure/p1",
      "hold.artery.shortest hold.floor{what=@floor.any-artery floor=15min total=20min}",
      "hold.artery.procedural-floor hold.floor{what=@floor.intervention floor=20min total=20min} from Procedure/p1"}));
  EXPECT_EQ(say(step(plan, Step::raise_head).basis), (Lines{
      "rest.head.artery rest.head{total=2h} from Procedure/p1",
      "rest.sum sum.rest{from=15:32 length=2h to=17:32}"}));
  const Lines rest{
      "rest.artery.per-french rest.base{french=6 each=1h total=6h} from Procedure/p1",
      "rest.artery.shortest rest.floor{what=@floor.any-artery floor=4h total=6h}",
      "rest.artery.procedural-floor rest.floor{what=@floor.intervention floor=6h total=6h} from Procedure/p1"};
  const auto with = [&](Lines more) {
    Lines all = rest;
    all.insert(all.end(), more.begin(), more.end());
    return all;
  };
  EXPECT_EQ(say(step(plan, Step::sit_up).basis), with({"rest.sit-before-end rest.sit{before=30min total=330min}", "rest.sum sum.rest{from=15:32 length=330min to=21:02}"}));
  EXPECT_EQ(say(step(plan, Step::stand_and_walk).basis), with({"rest.sum sum.rest{from=15:32 length=6h to=21:32}"}));
  EXPECT_EQ(say(step(plan, Step::discharge_check).basis), with({"rest.discharge.after-walk rest.discharge{after=1h total=7h}", "rest.sum sum.rest{from=15:32 length=7h to=22:32}"}));
  EXPECT_EQ(say(step(plan, Step::check_after_walk, 1).basis), (Lines{"watch.after-walk-second watch.after-walk{after=30min}"}));
  EXPECT_EQ(say(step(plan, Step::ask_anticoagulant_plan).basis), (Lines{"rest.ask-anticoagulant-plan rest.ask-plan{after=6h}"}));
  EXPECT_EQ(say(step(plan, Step::check_site).basis), (Lines{"watch.standard watch.due{at=15:47}"}));
  EXPECT_EQ(say(step(pressed_at_1512().plan(hm(15, 20)), Step::end_compression).basis).back(), "hold.sum sum.hold{from=15:12 length=20min to=15:32}");
  EXPECT_EQ(say(step(pressed_at_1512().plan(hm(15, 20)), Step::check_site).basis), (Lines{"watch.during-compression watch.due{at=15:17}"}));
  EXPECT_EQ(say(step(ready_chart().plan(hm(15)), Step::check_site).basis), (Lines{"watch.sheath-in watch.due{at=13:15}"}));
  chart.check(hm(15, 47));
  EXPECT_EQ(say(step(chart.plan(hm(15, 50)), Step::check_site).basis), (Lines{"watch.standard watch.due{at=15:47} from 18"}));
}

TEST(PlanSays, WhatTheRemovalRestsOn) {
  const auto open = ready_chart().plan(hm(15));
  // Of the open gates those that opened last, at 14:55: check, ACT, pressure, pulse.
  EXPECT_EQ(say(step(open, Step::remove_sheath).basis), (Lines{
      "gate.site-status.swelling gate.site-status.open-flat{at=14:55 bleeding=@found.dry} from 14",
      "gate.act.limit gate.act.open{value=140 drawn=14:55 limit=150 s} from 9 13",
      "gate.blood-pressure.systolic-open-below gate.blood-pressure.open{value=128 at=14:55 limit=150 mmHg} from 10 11",
      "gate.heart-rate.high-open gate.heart-rate.open{value=70 at=14:55 limit=120/min} from 12"}));
  auto closed = ready_chart();
  closed.lab(Analyte::act, 160, hm(14, 58));
  closed.lab(Analyte::inr, 1.6, hm(14, 58));
  // 50 % crossing from 160 s: 14:58 + 90 * log2(30 / 20) = 52.6 min. But the first draw after the heparin is 140: outside the formula; nothing to expect.
  const auto plan = closed.plan(hm(15));
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "blocked | removal.blocked-more{gate=@gate.act n=1}");
  EXPECT_EQ(say(step(plan, Step::remove_sheath).basis), (Lines{
      "gate.act.limit gate.act.over-limit{value=160 drawn=14:58 limit=150 s} from 9 15",
      "gate.warfarin-inr.open gate.warfarin-inr.between{value=1.6 drawn=14:58 limit=1.5} from 16"}));
  EXPECT_EQ(say(step(plan, Step::confirm_readiness)), "blocked | removal.blocked-more{gate=@gate.act n=1}");
  // Two draws so far; the next 30 min after the last: 15:28.
  EXPECT_EQ(say(step(plan, Step::draw_coagulation)), "expected #3 15:28 latest 15:28 released | gate.act.over-limit{value=160 drawn=14:58 limit=150 s}");
  EXPECT_EQ(say(step(plan, Step::draw_coagulation).basis), (Lines{"gate.draw-before draw.next{at=15:28} from 9 15"}));
  auto pulled = closed;
  pulled.event(sheath_removed, hm(15));
  pulled.event(compression_started, hm(15));
  EXPECT_EQ(say(step(pulled.plan(hm(15, 1)), Step::remove_sheath).basis), (Lines{
      "gate.act.limit removal.pulled-while{gate=@gate.act state=@gate-state.closed} from 9 15",
      "gate.warfarin-inr.open removal.pulled-while{gate=@gate.warfarin-inr state=@gate-state.ask} from 16"}));
}

// ACT 290 s at 13:00, baseline 130 s, limit 150 s: 16:22:30, 17:30, 19:00 (clinical model); the draw at 17:30, clamped to 30 to 60 min after the last: 14:00.
TEST(PlanSays, WaitingForTheAct) {
  auto chart = intervention_chart(6);
  chart.lab(Analyte::act, 290, hm(13));
  auto plan = chart.plan(hm(13, 30, 1));
  EXPECT_EQ(say(step(plan, Step::draw_coagulation)), "expected #2 14:00 latest 14:00 released | gate.act.stale{value=290 drawn=13:00 limit=150 s}");
  plan = chart.plan(hm(13, 29));
  EXPECT_EQ(say(step(plan, Step::draw_coagulation)), "expected #2 14:00 latest 14:00 released | gate.act.over-limit{value=290 drawn=13:00 limit=150 s}");
  ASSERT_TRUE(plan.sites[0].projection);
  const auto& p = *plan.sites[0].projection;
  EXPECT_EQ(say(p.p10) + " " + say(p.p50) + " " + say(p.p90) + " " + say(p.next_draw), "16:22:30 17:30 19:00 14:00");
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "blocked expected 17:30 | removal.blocked-until-more{gate=@gate.site-status expected=17:30 n=3}");
  plan = chart.plan(hm(14, 0, 1));
  EXPECT_EQ(say(step(plan, Step::draw_coagulation)), "due #2 14:00 latest 14:00 released late | gate.act.stale{value=290 drawn=13:00 limit=150 s}");
  // Enoxaparin 09:10 + 8 h = 17:10: its clock is not the last.
  chart.bolus(Agent::enoxaparin, 40, hm(9, 10)).route = Route::subcutaneous;
  EXPECT_EQ(say(step(chart.plan(hm(13, 29)), Step::remove_sheath)), "blocked expected 17:30 | removal.blocked-until-more{gate=@gate.site-status expected=17:30 n=4}");
  chart.bolus(Agent::dalteparin, 40, hm(9, 40)).route = Route::subcutaneous;
  // 09:40 + 8 h = 17:40.
  EXPECT_EQ(say(step(chart.plan(hm(13, 29)), Step::remove_sheath)), "blocked expected 17:40 | removal.blocked-until-more{gate=@gate.site-status expected=17:40 n=4}");
}

// Only the clock of enoxaparin runs, 07:30 + 8 h = 15:30: the values of 14:55 are stale by then, a draw 15 min before.
TEST(PlanSays, ClocksAlone) {
  auto chart = ready_chart();
  chart.bolus(Agent::enoxaparin, 40, hm(7, 30)).route = Route::subcutaneous;
  auto plan = chart.plan(hm(15));
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "blocked expected 15:30 | removal.not-before-fresh{at=15:30 draw=15:15}");
  EXPECT_EQ(say(step(plan, Step::draw_coagulation)), "expected #2 15:15 latest 15:15 released | gate.act.open{value=140 drawn=14:55 limit=150 s}");
  auto sooner = chart;   // bivalirudin 13:05 + 2 h = 15:05 is not the last clock
  auto& bivalirudin = sooner.bolus(Agent::bivalirudin, 0, hm(13));
  bivalirudin.bolus = false;
  bivalirudin.end = exactly(hm(13, 5));
  EXPECT_EQ(say(step(sooner.plan(hm(15)), Step::draw_coagulation).earliest), "15:15");
  EXPECT_EQ(say(step(sooner.plan(hm(15)), Step::remove_sheath)), "blocked expected 15:30 | removal.not-before-fresh{at=15:30 draw=15:15}");
  chart.record.administrations.back().start = chart.record.administrations.back().end = exactly(hm(7, 10));
  plan = chart.plan(hm(15));
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "expected 15:10 | removal.clock{at=15:10}") << "07:10 + 8 h, all values of 14:55 fresh at 15:10";
  EXPECT_EQ(say(step(plan, Step::confirm_readiness)), "expected 15:10 | removal.clock{at=15:10}");
  EXPECT_EQ(say(plan, Step::draw_coagulation), Lines{});
}

}  // namespace
}  // namespace clinical
