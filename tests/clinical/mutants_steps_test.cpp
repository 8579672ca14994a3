// Each step at the instants that decide it: why the patient stays flat, what is done, whose Task it is, two groins, a vein beside an artery, provisional and finished
// cases. Lengths of a 6 F sheath with an intervention: hold 20 min, rest 6 h, head 2 h (clinical model, sources there).
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using Lines = std::vector<std::string>;

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

struct StepRow {
  const char* name;
  std::function<void(Chart&)> change;
  Instant now;
  Step step;
  const char* says;
};
void expect_said(const Chart& base, const std::vector<StepRow>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = base;
    if (row.change) row.change(chart);
    EXPECT_EQ(say(step(chart.plan(row.now), row.step)), row.says);
  }
}
auto looked(Instant at, const std::function<void(SiteCheck&)>& change = [](SiteCheck&) {}) {
  return [=](Chart& c) { change(c.check(at)); };
}
auto pressure(double systolic, Instant at) {
  return [=](Chart& c) { c.pressure(systolic, at); };
}
template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}

// What keeps the head down at its time, 17:32, in the order in which it is told.
TEST(PlanSays, WhyThePatientStaysFlat) {
  const auto good = all(looked(hm(17, 30)), pressure(128, hm(17, 30)));
  const auto checks = [](Chart& c) { for (const int minute : {47, 62, 77, 92, 122}) c.check(hm(15, minute)); };   // every check of the series up to 17:02
  const auto head = [](const char* why) { return std::string("blocked expected 17:32 120min t0+120 | ") + why; };
  const auto due = "due 17:32 120min t0+120 released";
  const Instant now = hm(17, 32);
  const auto expect = [&](const char* name, const std::function<void(Chart&)>& change, const std::string& says, Instant when = hm(17, 32)) {
    Chart chart = dry_at_1532();
    checks(chart);
    change(chart);
    SCOPED_TRACE(name);
    EXPECT_EQ(say(step(chart.plan(when), Step::raise_head)), says);
  };
  expect("all good", good, due);
  expect("no check lately", pressure(128, hm(17, 30)), head("rest.check-not-fresh{limit=15min}"));
  expect("a check 15 min ago", all(looked(hm(17, 17)), pressure(128, hm(17, 30))), due);
  expect("a check longer ago", all(looked(hm(17, 16, 59)), pressure(128, hm(17, 30))), head("rest.check-not-fresh{limit=15min}"));
  expect("an incomplete check", all(good, looked(hm(17, 31), [](SiteCheck& c) { c.growth.reset(); })), head("rest.check-not-fresh{limit=15min}"));
  expect("ooze", all(good, looked(hm(17, 31), [](SiteCheck& c) { c.bleeding = Bleeding::ooze; })), head("rest.not-dry{at=17:31}"));
  expect("wet dressing", all(good, looked(hm(17, 31), [](SiteCheck& c) { c.wet_dressing = true; })), head("rest.not-dry{at=17:31}"));
  expect("weaker pulse", all(good, looked(hm(17, 31), [](SiteCheck& c) { c.foot_pulse = FootPulse::weaker; })), head("rest.foot-pulse{at=17:31}"));
  expect("no pressure", looked(hm(17, 30)), head("rest.pressure-not-fresh{limit=15min}"));
  expect("a pressure 15 min ago", all(looked(hm(17, 30)), pressure(128, hm(17, 17))), due);
  expect("a pressure longer ago", all(looked(hm(17, 30)), pressure(128, hm(17, 16, 59))), head("rest.pressure-not-fresh{limit=15min}"));
  expect("159", all(looked(hm(17, 30)), pressure(159, hm(17, 31))), due);
  expect("160", all(looked(hm(17, 30)), pressure(160, hm(17, 31))), head("rest.pressure{value=160 at=17:31}"));
  expect("160 five minutes before", all(looked(hm(17, 30)), pressure(160, hm(17, 26)), pressure(128, hm(17, 31))), head("rest.pressure{value=160 at=17:26}"));
  expect("160 earlier than that", all(looked(hm(17, 30)), pressure(160, hm(17, 25, 59)), pressure(128, hm(17, 31))), due);
  expect("89", all(looked(hm(17, 30)), pressure(89, hm(17, 31))), head("rest.pressure{value=89 at=17:31}"));
  expect("90: fallen from 128, urgent", all(looked(hm(17, 30)), pressure(90, hm(17, 31))), head("rest.alert{alert=@alert.systolic-low}"));
  expect("an urgent alert of the groin", all(good, looked(hm(17, 31), [](SiteCheck& c) { c.mass_or_bruit = true; })), head("rest.alert{alert=@alert.mass-or-bruit}"));
  expect("one that is told only", all(good, [](Chart& c) { c.lab(Analyte::temperature, 38, hm(17, 30)); }), due);
  expect("before its time", good, "expected 17:32 120min t0+120 released", hm(17, 31, 59));
  // 15:47 to 16:32 were missed; the look of 17:20 counts for 17:02 alone and does not end that, a second one does.
  Chart chart = dry_at_1532();
  all(looked(hm(17, 20)), pressure(128, hm(17, 30)))(chart);
  EXPECT_EQ(say(step(chart.plan(now), Step::raise_head)), head("rest.missed-checks"));
  chart.check(hm(17, 31));
  EXPECT_EQ(say(step(chart.plan(now), Step::raise_head)), due);
}

TEST(PlanSays, DoneIsDoneAndWhen) {
  const auto done = [](Step step, Instant at, TaskState state = TaskState::completed) { return [=](Chart& c) { c.done(step, at).state = state; }; };
  const Instant now = hm(21, 50);
  expect_said(dry_at_1532(), {
      {"head up", done(Step::raise_head, hm(17, 40)), now, Step::raise_head, "done actual 17:40 120min t0+120"},
      {"the first of two", all(done(Step::raise_head, hm(17, 45)), done(Step::raise_head, hm(17, 40))), now, Step::raise_head, "done actual 17:40 120min t0+120"},
      {"at T0 itself", done(Step::raise_head, hm(15, 32)), now, Step::raise_head, "done actual 15:32 120min t0+120 | rest.done-early{at=15:32 from=17:32}"},
      {"from before T0", done(Step::raise_head, hm(15, 31, 59)), now, Step::raise_head, "blocked expected 17:32 120min t0+120 | rest.check-not-fresh{limit=15min}"},
      {"rejected", done(Step::raise_head, hm(17, 40), TaskState::rejected), now, Step::raise_head, "blocked expected 17:32 120min t0+120 | rest.check-not-fresh{limit=15min}"},
      {"walked: sitting is passed", done(Step::stand_and_walk, hm(21, 40)), now, Step::sit_up, "cancelled 330min t0+330 | rest.walked{at=21:40}"},
      {"not walked: no discharge", all(looked(hm(22, 30)), pressure(128, hm(22, 30)), [](Chart& c) { for (int minute = 47; minute < 420; minute += 15) c.check(hm(15, minute)); }), hm(22, 35), Step::discharge_check,
       "blocked expected 22:32 420min t0+420 | rest.not-walked"},
      {"discharged", all(done(Step::stand_and_walk, hm(21, 40)), done(Step::discharge_check, hm(22, 45))), hm(22, 50), Step::discharge_check, "done actual 22:45 420min t0+420"},
      {"discharge 60 min after a late walk", done(Step::stand_and_walk, hm(21, 40)), now, Step::discharge_check, "expected 22:40 420min t0+420 released"},
      {"a check after the walk is late after ten minutes", done(Step::stand_and_walk, hm(21, 40)), hm(22, 5), Step::check_after_walk, "due #1 21:55 latest 22:05 t0+375 released"},
      {"and then late", done(Step::stand_and_walk, hm(21, 40)), hm(22, 5, 1), Step::check_after_walk, "due #1 21:55 latest 22:05 t0+375 released late"},
      {"a check seven minutes before its time", all(done(Step::stand_and_walk, hm(21, 40)), looked(hm(21, 48))), hm(22, 5), Step::check_after_walk, "done #1 actual 21:48 t0+375"},
      {"a check sooner than that", all(done(Step::stand_and_walk, hm(21, 40)), looked(hm(21, 47, 59))), hm(22, 5), Step::check_after_walk, "due #1 21:55 latest 22:05 t0+375 released"},
      {"an incomplete check", all(done(Step::stand_and_walk, hm(21, 40)), looked(hm(21, 50), [](SiteCheck& c) { c.growth.reset(); })), hm(22, 5), Step::check_after_walk, "due #1 21:55 latest 22:05 t0+375 released"},
      {"not walked at the time of the check", nullptr, hm(21, 47), Step::check_after_walk, "blocked #1 expected 21:47 t0+375 | rest.not-walked"},
      {"the anticoagulant plan, asked too soon", done(Step::ask_anticoagulant_plan, hm(15, 31)), hm(21, 32), Step::ask_anticoagulant_plan, "due 21:32 t0+360 released"},
      {"dressed", done(Step::dress_site, hm(15, 32)), now, Step::dress_site, "done actual 15:32"},
      {"dressed before T0", done(Step::dress_site, hm(15, 31)), now, Step::dress_site, "due 15:32 t0+0 released"},
  });
  expect_said(pressed_at_1512(), {
      {"partial pressure done", done(Step::partial_compression, hm(15, 28)), hm(15, 30), Step::partial_compression, "done actual 15:28 5min"},
      {"from before this hold", done(Step::partial_compression, hm(15, 11, 59)), hm(15, 30), Step::partial_compression, "due 15:24 5min released"},
      {"ended alone: haemostasis is to be confirmed", [](Chart& c) { c.event(compression_ended, hm(15, 30)); }, hm(15, 31), Step::end_compression, "due 15:30 20min released | hold.confirm-haemostasis{at=15:30}"},
      {"ended alone: what nobody recorded of it", [](Chart& c) { c.event(compression_ended, hm(15, 30)); }, hm(15, 31), Step::firm_compression, "cancelled 12min | hold.phase-not-recorded"},
      {"out at an unknown time", [](Chart& c) { for (auto& e : c.record.access_events) e.at.reset(); }, hm(15, 31), Step::remove_sheath, "cancelled | removal.out-at-unknown-time"},
  });
  auto confirmed = dry_at_1532();
  confirmed.done(Step::confirm_readiness, hm(15, 10));
  EXPECT_EQ(say(step(confirmed.plan(now), Step::confirm_readiness)), "done actual 15:10");
}

// Confirmations are the site's whose Task it is: named by Procedure, side or vessel.
TEST(PlanSays, WhoseTaskItIs) {
  const auto two = [] {
    Chart chart = ready_chart();
    chart.procedure("p2", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
    chart.record.checks.clear();
    chart.check(hm(14, 55), "").side = Side::right;
    chart.check(hm(14, 55), "").side = Side::left;
    return chart;
  };
  const auto states = [&](const std::function<void(TaskFact&)>& change) {
    Chart chart = two();
    change(chart.done(Step::confirm_readiness, hm(14, 57)));
    const auto plan = chart.plan(hm(15));
    std::string text;
    for (const auto& site : plan.sites) text += std::string(name_of(step(site, Step::confirm_readiness).status)) + " ";
    return text;
  };
  EXPECT_EQ(states([](TaskFact&) {}), "due due ") << "it names no site";
  EXPECT_EQ(states([](TaskFact& t) { t.side = Side::left; }), "due done ");
  EXPECT_EQ(states([](TaskFact& t) { t.procedure = "Procedure/p2"; }), "due done ");
  EXPECT_EQ(states([](TaskFact& t) { t.procedure = "Procedure/p1"; t.side = Side::right; }), "done due ");
  EXPECT_EQ(states([](TaskFact& t) { t.procedure = "Procedure/p1"; }), "due due ") << "both sites are of that case";
  EXPECT_EQ(states([](TaskFact& t) { t.procedure = "Procedure/other"; t.side = Side::right; }), "due due ");
  Chart one = ready_chart();
  one.done(Step::confirm_readiness, hm(14, 57)).procedure = "Procedure/other";
  EXPECT_EQ(step(one.plan(hm(15)), Step::confirm_readiness).status, StepStatus::due);
  one.record.tasks.back().procedure = "Procedure/p1";
  EXPECT_EQ(step(one.plan(hm(15)), Step::confirm_readiness).status, StepStatus::done);
  one.record.tasks.back().procedure.clear();
  EXPECT_EQ(step(one.plan(hm(15)), Step::confirm_readiness).status, StepStatus::done);
}

// Two groins: the patient gets up when the later allows it. Right dry 15:32, left (7 F, 7 h) dry 15:50: head 17:50, sitting 22:20, walking 22:50.
TEST(PlanSays, TheLaterOfTwoGroins) {
  Chart chart = dry_at_1532();
  chart.procedure("p2", 7, Closure::manual, Side::left).part_of = "Procedure/p1";
  chart.record.checks.clear();
  chart.check(hm(15, 7), "").side = Side::right;
  chart.check(hm(15, 7), "").side = Side::left;
  for (auto& e : chart.record.access_events) e.side = Side::right;
  const auto event = [&](AccessEventKind kind, Instant at) { chart.event(kind, at, "Procedure/p2"); };
  event(sheath_removed, hm(15, 12));
  event(compression_started, hm(15, 12));
  auto plan = chart.plan(hm(15, 40));
  ASSERT_EQ(plan.sites.size(), 2u);
  EXPECT_EQ(say(step(plan.sites[0], Step::stand_and_walk)), "blocked 360min t0+360 | rest.other-site{side=@side.left}");
  EXPECT_EQ(say(step(plan.sites[1], Step::stand_and_walk)), "expected 420min t0+420 | rest.after-haemostasis");
  EXPECT_FALSE(plan.up_at);
  EXPECT_EQ(plan.state, CaseState::compressing);
  event(haemostasis_confirmed, hm(15, 50));
  plan = chart.plan(hm(15, 55));
  for (const auto& site : plan.sites) {
    EXPECT_EQ(say(step(site, Step::raise_head).earliest), "17:50");
    EXPECT_EQ(say(step(site, Step::sit_up).earliest), "22:20");
    EXPECT_EQ(say(step(site, Step::stand_and_walk).earliest), "22:50");
    EXPECT_EQ(say(step(site, Step::discharge_check).earliest), "23:50");
    EXPECT_EQ(say(step(site, Step::ask_anticoagulant_plan).earliest), "21:50") << "6 h after the last T0";
  }
  EXPECT_EQ(plan.up_at, hm(22, 50));
  EXPECT_EQ(plan.up_site, "Procedure/p2");
  EXPECT_EQ(say(step(plan.sites[0], Step::stand_and_walk).basis).back(), "rest.latest rest.latest-site{at=22:50}");
  EXPECT_EQ(say(step(plan.sites[1], Step::stand_and_walk).basis).back(), "rest.sum sum.rest{from=15:50 length=7h to=22:50}");
}

// A vein in the groin of an artery: its hold (10 min, 15 with an anticoagulant or unknown) begins so that both end together.
TEST(PlanSays, TheVeinWaitsForTheArtery) {
  Chart chart = ready_chart();
  chart.procedure("p2", 6, Closure::manual, Side::right, Vessel::vein).part_of = "Procedure/p1";
  for (const char* site : {"Procedure/p1", "Procedure/p2"}) chart.check(hm(14, 58), site).side = Side::right;
  auto plan = chart.plan(hm(15));
  ASSERT_EQ(plan.sites.size(), 2u);
  EXPECT_EQ(say(step(plan.sites[0], Step::remove_sheath)), "due from 14:55 | removal.due");
  EXPECT_EQ(say(step(plan.sites[1], Step::remove_sheath)), "blocked | removal.artery-first");
  EXPECT_EQ(say(step(plan.sites[1], Step::end_compression)), "blocked 15min | hold.after-sheath-out");
  for (const auto kind : {sheath_removed, compression_started}) {
    auto& e = chart.event(kind, hm(15));
    e.side = Side::right;
    e.vessel = Vessel::artery;
  }
  plan = chart.plan(hm(15, 1));
  // 15:00 + 20 min - 15 min = 15:05.
  EXPECT_EQ(say(step(plan.sites[1], Step::remove_sheath)), "expected 15:05 | removal.with-artery{at=15:05}");
  auto& dry = chart.event(haemostasis_confirmed, hm(15, 4));
  dry.side = Side::right;
  dry.vessel = Vessel::artery;
  EXPECT_EQ(say(step(chart.plan(hm(15, 4)).sites[1], Step::remove_sheath)), "due from 14:55 | removal.due") << "the artery is dry: nothing to wait for";
}

TEST(PlanSays, TwoArteriesOfOneGroinWaitForNothing) {
  Chart chart = ready_chart();
  chart.procedure("p2", 6, Closure::manual, Side::right).part_of = "Procedure/p1";
  chart.record.checks.clear();
  chart.check(hm(14, 55), "").side = Side::right;
  const auto plan = chart.plan(hm(15));
  for (const auto& site : plan.sites) EXPECT_EQ(say(step(site, Step::remove_sheath)), "due from 14:55 | removal.due");
}

TEST(PlanSays, AntegradeIsSaidOfTheFirmPart) {
  Chart chart = pressed_at_1512();
  chart.index().direction = Direction::antegrade;
  const auto plan = chart.plan(hm(15, 20));
  EXPECT_EQ(say(step(plan, Step::firm_compression)), "due 15:12 12min released | hold.antegrade");
  EXPECT_EQ(say(step(plan, Step::partial_compression)), "expected 15:24 5min released");
}

TEST(PlanSays, Provisional) {
  Chart chart = ready_chart();
  chart.index().status = ProcedureStatus::in_progress;
  const auto plan = chart.plan(hm(15));
  EXPECT_TRUE(plan.provisional);
  EXPECT_EQ(say(step(plan, Step::remove_sheath)), "blocked | withheld.provisional");
  EXPECT_EQ(say(step(plan, Step::raise_head)), "blocked | withheld.provisional");
  EXPECT_EQ(say(step(plan, Step::check_site, 5)), "expected #6 from 16:00 latest 16:10 released") << "checks keep their times";
  EXPECT_EQ(say(step(plan, Step::dress_site)), "blocked | withheld.provisional");
  EXPECT_EQ(say(plan, Step::call_clinician), Lines{});
  EXPECT_EQ(say(step(plan, Step::provide_missing)), "due 12:00 released | missing.ask");
}

// 15:32 + 48 h without a discharge: the case is over, nothing is due any more.
TEST(PlanSays, Finished) {
  Chart chart = dry_at_1532();
  chart.done(Step::stand_and_walk, hm(21, 40));
  EXPECT_EQ(chart.plan(hm(48 + 15, 31, 59)).state, CaseState::walking);
  const auto plan = chart.plan(hm(48 + 15, 32));
  EXPECT_EQ(plan.state, CaseState::finished);
  EXPECT_EQ(say(step(plan, Step::stand_and_walk)), "done actual 21:40 360min t0+360");
  EXPECT_EQ(say(step(plan, Step::sit_up)), "cancelled 330min t0+330 | case.finished");
  EXPECT_EQ(say(step(plan, Step::ask_anticoagulant_plan)), "cancelled t0+360 | case.finished");
  EXPECT_EQ(open_points(plan), Lines{});
  EXPECT_FALSE(plan.valid_until || plan.next_change || plan.up_at || !plan.cautions.empty());
  // Discharged at 22:00.
  Encounter stay;
  stay.source = {"Encounter/e", "1", false};
  stay.start = exactly(hm(8));
  stay.end = exactly(hm(22));
  chart.record.encounters.push_back(stay);
  EXPECT_EQ(chart.plan(hm(21, 59, 59)).state, CaseState::walking);
  EXPECT_EQ(chart.plan(hm(22)).state, CaseState::finished);
  chart.record.encounters.back().in_progress = true;
  EXPECT_EQ(chart.plan(hm(22)).state, CaseState::walking);
  // What was done after its end is none of it.
  Chart later = dry_at_1532();
  later.done(Step::stand_and_walk, hm(48 + 15, 32, 1));
  EXPECT_EQ(say(step(later.plan(hm(48 + 16)), Step::stand_and_walk)), "cancelled 360min t0+360 | case.finished");
  later.record.tasks.back().changed = exactly(hm(48 + 15, 32));
  EXPECT_EQ(say(step(later.plan(hm(48 + 16)), Step::stand_and_walk)), "done actual +2d 15:32 360min t0+360");
}

TEST(PlanSays, TheStateOfTheCase) {
  Chart chart = intervention_chart(6);
  chart.index().end = exactly(hm(13));
  EXPECT_EQ(chart.plan(hm(12, 59, 59)).state, CaseState::waiting);
  EXPECT_EQ(chart.plan(hm(13)).state, CaseState::sheath_in);
  chart.event(sheath_inserted, hm(12, 2));
  EXPECT_EQ(chart.plan(hm(12, 30)).state, CaseState::sheath_in);
  chart.index().status = ProcedureStatus::in_progress;
  chart.record.access_events.clear();
  EXPECT_EQ(chart.plan(hm(12, 30)).state, CaseState::sheath_in) << "provisional";
}

}  // namespace
}  // namespace clinical
