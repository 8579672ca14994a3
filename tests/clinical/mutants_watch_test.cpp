// The series of checks and what counts for them, restarts, marks, and a few rules of groups: of veins in one groin, of a stopped case, of the walk with two people.
// Series: q15 x4, q30 x4, hourly x4, then 4 h to 24 h; with the sheath in q15 x4, then hourly; a swelling q15 x4 from its mark (clinical model, "Watching").
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart dry_at_1532() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}
/// "1 15:47, 2 16:02": ordinal and time of the checks from `first` on.
std::string checks(const CasePlan& plan, int from = 0, int until = 1000000) {
  std::string text;
  for (const auto& m : plan.sites.at(0).milestones)
    if (m.step == Step::check_site && m.ordinal >= from && m.ordinal < until) text += (text.empty() ? "" : ", ") + std::to_string(m.ordinal) + " " + say(m.earliest);
  return text;
}
std::string statuses(const CasePlan& plan, std::size_t most) {
  std::string text;
  for (const auto& m : plan.sites.at(0).milestones)
    if (m.step == Step::check_site && most-- > 0) text += (text.empty() ? "" : " ") + std::string(name_of(m.status)) + (m.late ? "!" : "") + (m.actual ? "=" + say(*m.actual) : "");
    else if (most > 100) break;
  return text;
}

TEST(WatchEdges, ASmallSwellingIsWatchedFromItsMark) {
  const auto marked = [](const std::function<void(SiteCheck&)>& change, Instant at = hm(16, 5)) {
    Chart chart = dry_at_1532();
    change(chart.check(at));
    return checks(chart.plan(hm(16, 10)), 2000, 3000);
  };
  const auto size = [](double cm) { return [cm](SiteCheck& c) { c.swelling = amount(cm, "cm"); }; };
  EXPECT_EQ(marked(size(4.9)), "2001 16:20, 2002 16:35, 2003 16:50, 2004 17:05");
  EXPECT_EQ(marked(size(0.1)), "2001 16:20, 2002 16:35, 2003 16:50, 2004 17:05");
  EXPECT_EQ(marked(size(0)), "");
  EXPECT_EQ(marked([](SiteCheck& c) { c.swelling.reset(); }), "");
  EXPECT_EQ(marked(size(2), hm(15, 32)), "") << "at T0: all four stand in the series already";
  EXPECT_EQ(marked(size(2), hm(15, 31, 59)), "") << "before it";
  Chart two = dry_at_1532();
  two.check(hm(16, 5)).swelling = amount(2, "cm");
  two.check(hm(16, 20)).swelling = amount(2.9, "cm");  // a centimetre more would be growth
  EXPECT_EQ(checks(two.plan(hm(16, 25)), 2000, 3000), "2001 16:20, 2002 16:35, 2003 16:50, 2004 17:05") << "from the first";
}

TEST(WatchEdges, HeparinBeginsItAnew) {
  const auto first = [](const std::function<void(Administration&)>& change, Agent agent = Agent::heparin, Instant at = hm(16)) {
    Chart chart = dry_at_1532();
    change(chart.bolus(agent, 500, at));
    return checks(chart.plan(hm(16, 10))).substr(0, 13);
  };
  EXPECT_EQ(first([](Administration&) {}), "10001 16:15, ");
  EXPECT_EQ(first([](Administration& a) { a.flush = true; }), "1 15:47, 2 16");
  EXPECT_EQ(first([](Administration& a) { a.start.reset(); }), "1 15:47, 2 16") << "nobody knows when";
  EXPECT_EQ(first([](Administration&) {}, Agent::enoxaparin), "10001 16:15, ") << "not only heparin itself";
  EXPECT_EQ(first([](Administration&) {}, Agent::apixaban), "1 15:47, 2 16");
  EXPECT_EQ(first([](Administration&) {}, Agent::heparin, hm(15, 32)), "1 15:47, 2 16") << "at T0";
  Chart twice = dry_at_1532();
  twice.bolus(Agent::heparin, 500, hm(16));
  twice.bolus(Agent::heparin, 500, hm(16, 5));
  EXPECT_EQ(checks(twice.plan(hm(16, 10))).substr(0, 12), "20001 16:20,");
  // 16:00 + 24 h is the end: eight quarter hours (a high watch), four half hours, four hours, then every four: 17:15 ... the last at 16:00 + 24 h.
  Chart once = dry_at_1532();
  once.bolus(Agent::heparin, 500, hm(16));
  const auto plan = once.plan(hm(16, 10));
  EXPECT_TRUE(plan.sites[0].high_watch);
  EXPECT_EQ(checks(plan, 10000), "10001 16:15, 10002 16:30, 10003 16:45, 10004 17:00, 10005 17:15, 10006 17:30, 10007 17:45, 10008 18:00, 10009 18:30, 10010 19:00, 10011 19:30, 10012 20:00, "
                                 "10013 21:00, 10014 22:00, 10015 23:00, 10016 +1d 00:00, 10017 +1d 04:00, 10018 +1d 08:00, 10019 +1d 12:00, 10020 +1d 16:00");
}

TEST(WatchEdges, FromArrivalWithTheSheathIn) {
  const auto first = [](const std::function<void(Chart&)>& change) {
    Chart chart = intervention_chart(6);
    change(chart);
    const auto text = checks(chart.plan(hm(13, 30)));
    return text.substr(0, text.find(','));
  };
  EXPECT_EQ(first([](Chart&) {}), "1 13:15") << "the end of the procedure";
  EXPECT_EQ(first([](Chart& c) { c.index().end.reset(); c.event(sheath_inserted, hm(12, 20)); }), "1 12:35") << "the insertion";
  EXPECT_EQ(first([](Chart& c) { c.index().end.reset(); c.event(sheath_inserted, hm(12, 20)).at = Moment{hm(12, 20), hm(12, 30)}; }), "1 12:15") << "that is not exact: the start";
  EXPECT_EQ(first([](Chart& c) { c.index().end.reset(); c.index().start = Moment{hm(12), hm(12, 10)}; }), "") << "nor is that";
}

TEST(WatchEdges, WhichLookCountsForWhich) {
  const auto after = [](std::initializer_list<Instant> looks, Instant now, std::size_t most = 3) {
    Chart chart = dry_at_1532();
    for (const auto at : looks) chart.check(at);
    return statuses(chart.plan(now), most);
  };
  EXPECT_EQ(after({hm(15, 40)}, hm(16, 3)), "done=15:40 due expected");
  EXPECT_EQ(after({hm(15, 39, 59)}, hm(16, 3)), "cancelled due expected");
  EXPECT_EQ(after({hm(15, 55)}, hm(16, 3)), "done=15:55 done=15:55 expected") << "7 min before 16:02";
  EXPECT_EQ(after({hm(15, 54, 59)}, hm(16, 3)), "done=15:54:59 due expected");
  EXPECT_EQ(after({hm(16, 1, 59)}, hm(16, 3)), "done=16:01:59 done=16:01:59 expected");
  EXPECT_EQ(after({hm(16, 2)}, hm(16, 3)), "cancelled done=16:02 expected");
  EXPECT_EQ(after({}, hm(15, 57)), "due expected expected");
  EXPECT_EQ(after({}, hm(15, 57, 1)), "due! expected expected");
  EXPECT_EQ(after({}, hm(16, 2)), "cancelled due expected");
  Chart inexact = dry_at_1532();
  inexact.check(hm(15, 47)).at = Moment{hm(15, 47), hm(15, 48)};
  EXPECT_EQ(statuses(inexact.plan(hm(15, 50)), 1), "due") << "not to the second";
  // Under the hand every 5 min: half of that, not 7 min.
  Chart pressed = intervention_chart(6);
  pull_at(pressed, hm(15, 12));
  pressed.check(hm(15, 19, 30));
  EXPECT_EQ(statuses(pressed.plan(hm(15, 20)), 2), "done=15:19:30 done=15:19:30") << "for 15:17, and 2.5 min before 15:22";
  pressed.record.checks.back().at = exactly(hm(15, 19, 29));
  EXPECT_EQ(statuses(pressed.plan(hm(15, 20)), 2), "done=15:19:29 expected");
  pressed.record.checks.back().at = exactly(hm(15, 14, 30));
  EXPECT_EQ(statuses(pressed.plan(hm(15, 20)), 1), "done=15:14:30") << "half of an hour is more than 7 min: 15:10";
}

TEST(WatchEdges, MissedInARow) {
  const auto alert = [](std::initializer_list<Instant> looks, Instant now) {
    Chart chart = dry_at_1532();
    for (const auto at : looks) chart.check(at);
    const auto plan = chart.plan(now);
    const auto* found = find_alert(plan, "missed-check");
    return found ? say(*found) : "none";
  };
  EXPECT_EQ(alert({}, hm(15, 57)), "none");
  EXPECT_EQ(alert({}, hm(16, 12)), "tell Procedure/p1 since 15:47 | alert.missed-check{at=15:47}");
  EXPECT_EQ(alert({}, hm(16, 12, 1)), "urgent Procedure/p1 since 15:47 | alert.missed-checks{at=15:47}");
  EXPECT_EQ(alert({hm(16, 2)}, hm(16, 28)), "tell Procedure/p1 since 16:17 | alert.missed-check{at=16:17}") << "one, a look, and one: none in a row";
  EXPECT_EQ(alert({hm(16, 17)}, hm(16, 20)), "urgent Procedure/p1 since 15:47 | alert.missed-checks-made-since{at=15:47}");
  EXPECT_EQ(alert({hm(16, 17)}, hm(16, 43)), "urgent Procedure/p1 since 15:47 | alert.missed-checks{at=15:47}") << "and missed again: one look is not two";
  EXPECT_EQ(alert({hm(16, 17), hm(16, 32)}, hm(16, 35)), "none");
}

TEST(WatchEdges, TheSeriesEnds) {
  Chart chart = dry_at_1532();
  const auto all = checks(chart.plan(hm(15, 40)), 0, 1000);
  EXPECT_EQ(all.substr(all.rfind(',') + 2), "16 +1d 14:32") << "the next would be 18:32, over 24 h";
  Encounter stay;
  stay.source = {"Encounter/e", "1", false};
  stay.start = exactly(hm(8));
  stay.end = exactly(hm(18));
  chart.record.encounters.push_back(stay);
  const auto left = checks(chart.plan(hm(19)));
  EXPECT_EQ(left.substr(left.rfind(',') + 2), "6 -") << "17:32, the last before the discharge at 18:00; no longer due";
}

// Several sheaths of veins in one groin take the longer row.
TEST(GroupEdges, TwoVeinsOfOneGroin) {
  const auto hold = [](Side side, Vessel vessel) {
    Chart chart = plain_chart(6, Closure::manual, Vessel::vein);
    chart.procedure("p2", 6, Closure::manual, side, vessel).part_of = "Procedure/p1";
    const auto plan = chart.plan(hm(13, 10));
    return step(plan.sites[0], Step::end_compression).planned->count();
  };
  EXPECT_EQ(hold(Side::right, Vessel::vein), 15);
  EXPECT_EQ(hold(Side::left, Vessel::vein), 10);
  EXPECT_EQ(hold(Side::right, Vessel::artery), 10);
}

TEST(GroupEdges, AStoppedCase) {
  Chart chart = dry_at_1532();
  chart.record.patient.deceased = true;
  const auto plan = chart.plan(hm(16));
  EXPECT_EQ(plan.state, CaseState::withdrawn);
  EXPECT_EQ(say(*plan.stopped), "case.stopped.deceased");
  EXPECT_FALSE(plan.up_at || plan.valid_until || plan.next_change);
  EXPECT_TRUE(plan.missing.empty() && plan.conflicts.empty() && plan.alerts.empty() && plan.sites[0].gates.empty() && !plan.sites[0].projection);
  EXPECT_EQ(say(step(plan, Step::end_compression)), "done actual 15:32 20min");
  EXPECT_EQ(say(step(plan, Step::stand_and_walk)), "cancelled 360min t0+360 | case.stopped.deceased");
  EXPECT_EQ(say(step(plan, Step::check_site)), "cancelled #1 t0+15 | case.stopped.deceased");
  chart.record.patient.deceased = false;
  chart.record.patient.active = false;
  EXPECT_EQ(say(*chart.plan(hm(16)).stopped), "case.stopped.inactive");
  chart.record.patient.merged_into = "Patient/b";
  EXPECT_EQ(say(*chart.plan(hm(16)).stopped), "case.stopped.merged{into=Patient/b}");
  Chart in = intervention_chart(6);
  in.record.patient.deceased = true;
  EXPECT_TRUE(in.plan(hm(14)).sites[0].gates.empty());
}

// The old, and those closed by a device after 9 F and over.
TEST(GroupEdges, WhoWalksWithTwoPeople) {
  const auto why = [](int french, Closure closure) {
    Chart chart = plain_chart(french, closure);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, closure == Closure::manual ? 30 : 5));
    const auto plan = chart.plan(hm(15, 31));
    const auto& walk = step(plan, Step::stand_and_walk);
    return walk.why ? say(*walk.why) : std::string("-");
  };
  EXPECT_EQ(why(9, Closure::device), "rest.two-people");
  EXPECT_EQ(why(9, Closure::suture), "rest.two-people");
  EXPECT_EQ(why(8, Closure::device), "-");
  EXPECT_EQ(why(9, Closure::manual), "-");
  EXPECT_EQ(why(8, Closure::suture), "-");
}

// An event without a side goes where an earlier one has told the side.
TEST(GroupEdges, WhatEventsTellOfASite) {
  Chart chart = plain_chart(6);
  auto& p2 = chart.procedure("p2", 6, Closure::manual, Side::left);
  p2.part_of = "Procedure/p1";
  p2.sides.clear();
  chart.event(sheath_inserted, hm(12, 1), "Procedure/p2").side = Side::left;
  chart.event(compression_started, hm(13, 30), "").side = Side::left;
  const auto plan = chart.plan(hm(14));
  EXPECT_FALSE(plan.sites[0].compression_started);
  EXPECT_EQ(plan.sites[1].side, Side::left);
  EXPECT_EQ(say(plan.sites[1].compression_started), "13:30");
}

// 200 h and a day: longer than the look-back of 168 h.
TEST(GroupEdges, TheLongestHoldIsLookedBackFor) {
  Protocol protocol = cautious();
  protocol.fondaparinux_hold_impaired.micro = whole(200);
  const auto shown = [&](Instant at) {
    Chart chart = plain_chart(6);
    chart.bolus(Agent::fondaparinux, 1, at);
    return chart.plan(hm(14), protocol).shown_doses.size();
  };
  EXPECT_EQ(shown(hm(12 - 224)), 1u);
  EXPECT_EQ(shown(hm(12 - 224, 0, -1)), 0u);
}

}  // namespace
}  // namespace clinical
