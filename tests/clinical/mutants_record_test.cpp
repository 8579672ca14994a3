// What the facts of a record become: contradictions with both sources, what is missing, of whom it is asked and what it blocks. Clinical model, "When facts change", "Settled points"; windows and tolerances stand in the protocol.
#include <algorithm>

#include "clinical/missing.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using Lines = std::vector<std::string>;

template <class T>
std::string joined(const std::vector<T>& all) {
  std::string text;
  for (const auto& one : all) text += (text.empty() ? "" : "; ") + say(one);
  return text;
}
struct Row {
  const char* name;
  std::function<void(Chart&)> change;
  const char* says;
};
void expect_conflicts(const Chart& base, Instant now, const std::vector<Row>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = base;
    row.change(chart);
    EXPECT_EQ(joined(chart.plan(now).conflicts), row.says);
  }
}
template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}
auto event(AccessEventKind kind, Instant at, const char* procedure = "Procedure/p1") {
  return [=](Chart& c) { c.event(kind, at, procedure); };
}
auto lab(Analyte analyte, double value, Instant at) {
  return [=](Chart& c) { c.lab(analyte, value, at); };
}
void drop(Chart& chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}

// More than 5 min ahead of 14:00. Of plain_chart the sources 1 to 8; what a row adds is 9.
TEST(ConflictSays, WhatLiesAhead) {
  const Instant ahead = hm(14, 5, 1);
  const auto value = [&](Analyte a) { return [=](Chart& c) { c.lab(a, 30, ahead); }; };
  std::vector<Row> rows{
      {"five minutes are a fast clock", lab(Analyte::act, 30, hm(14, 5)), ""},
      {"a removal", event(sheath_removed, ahead), "haemostasis-time future-time [sheath-removed] from 9"},
      {"a check", [&](Chart& c) { c.check(ahead); }, "site-check future-time from 9"},
      {"a dose", [&](Chart& c) { c.bolus(Agent::heparin, 1, ahead); }, "dose-time future-time [heparin] from 9"},
      {"a value without a result", [&](Chart& c) { c.lab(Analyte::inr, 1, ahead).value.reset(); }, "inr future-time from 9"},
      {"a statement", [&](Chart& c) { c.state(StatementKind::no_anticoagulant_given, ahead); }, "anticoagulant-history future-time from 9"},
      {"a statement about tests", [&](Chart& c) { c.state(StatementKind::coagulation_test_unavailable, ahead); }, "anticoagulant-history future-time from 9"},
      {"a statement about home", [&](Chart& c) { c.state(StatementKind::no_home_anticoagulant, ahead); }, "home-anticoagulants future-time from 9"},
      {"a dose that ends before it starts", [](Chart& c) { auto& a = c.bolus(Agent::other, 1, hm(13, 30)); a.name = "saline"; a.bolus = false; a.end = exactly(hm(13, 29, 59)); }, "stop-time negative-interval [saline] from 9"},
      {"a dose that ends as it starts", [](Chart& c) { auto& a = c.bolus(Agent::other, 1, hm(13, 30)); a.bolus = false; }, ""},
      {"a procedure that ends before it starts", [](Chart& c) { c.index().end = exactly(hm(11, 59)); }, "haemostasis-time negative-interval [Catheter procedure (invented)] from Procedure/p1"},
      {"a procedure that begins later", [&](Chart& c) { c.index().start = exactly(ahead); c.index().end.reset(); }, "haemostasis-time future-time [Catheter procedure (invented)] from Procedure/p1"},
      {"a procedure of which only the end is known, later", [&](Chart& c) { c.index().start.reset(); c.index().end = exactly(ahead); }, "haemostasis-time future-time [Catheter procedure (invented)] from Procedure/p1"},
  };
  const std::pair<Analyte, const char*> facts[] = {
      {Analyte::act, "act future-time [30] from 9"}, {Analyte::aptt, "aptt future-time [30] from 9"}, {Analyte::anti_xa, "anti-xa future-time [30] from 9"}, {Analyte::inr, "inr future-time [30] from 9"},
      {Analyte::platelets, "platelets future-time [30] from 9"}, {Analyte::haemoglobin, "haemoglobin future-time [30] from 9"}, {Analyte::fibrinogen, "fibrinogen future-time [30] from 9"},
      {Analyte::creatinine, "creatinine future-time [30] from 9"}, {Analyte::weight, "weight future-time [30] from 9"}, {Analyte::height, "height future-time [30] from 9"},
      {Analyte::heart_rate, "heart-rate future-time [30] from 9"}, {Analyte::systolic, "blood-pressure future-time [30] from 9"}, {Analyte::diastolic, "blood-pressure future-time [30] from 9"},
      {Analyte::mean_pressure, "blood-pressure future-time [30] from 9"}, {Analyte::oxygen_saturation, "heart-rate future-time [30] from 9"}, {Analyte::temperature, "heart-rate future-time [30] from 9"},
      {Analyte::bilirubin, "liver-tests future-time [30] from 9"}, {Analyte::alanine_aminotransferase, "liver-tests future-time [30] from 9"}};
  for (const auto& [analyte, says] : facts) rows.push_back({"a value", value(analyte), says});
  expect_conflicts(plain_chart(6), hm(14), rows);
}

Chart dry_at_1520() {   // 9 to 12 pressure, pulse, check of 14:55; 13 out and 14 pressed 15:00; 15 dry 15:20
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 20));
  return chart;
}

TEST(ConflictSays, TimesOfTheCourse) {
  const auto untimed = [](AccessEventKind kind, std::optional<Moment> at = {}) { return [=](Chart& c) { c.event(kind, hm(15)).at = at; }; };
  expect_conflicts(dry_at_1520(), hm(16), {
      {"none", [](Chart&) {}, ""},
      {"two times in one record", [](Chart& c) { c.record.access_events.back().time_conflict = true; }, "haemostasis-time two-times-in-one-record [haemostasis-confirmed 2026-03-02T15:20:00Z] from 15 Procedure/p1"},
      {"a rebleed without a time", untimed(rebleed), "haemostasis-time event-without-time from 16 Procedure/p1"},
      {"a failed closure without a time", untimed(closure_failed), "haemostasis-time event-without-time from 16 Procedure/p1"},
      {"a pressure without a time", untimed(pressure_changed), "haemostasis-time event-without-time from 16 Procedure/p1"},
      {"a start without a time", untimed(compression_started), "haemostasis-time event-without-time from 16 Procedure/p1"},
      {"what voids no T0 needs none", untimed(haemostasis_confirmed), ""},
      {"a rebleed that may lie after T0", untimed(rebleed, Moment{hm(15, 10), hm(15, 20)}), "haemostasis-time event-without-time [rebleed 2026-03-02T15:20:00Z] from 16 Procedure/p1"},
      {"a rebleed that lies before it", untimed(rebleed, Moment{hm(15, 10), hm(15, 19, 59)}), ""},
      {"pressed before the start", event(compression_started, hm(11, 59, 59)), "haemostasis-time event-before-start [compression-started 2026-03-02T11:59:59Z] from 16 Procedure/p1"},
      {"inserted before the start", event(sheath_inserted, hm(11, 50)), ""},
      {"out twice, five minutes apart", event(sheath_removed, hm(15, 5)), ""},
      {"out twice, further apart", event(sheath_removed, hm(15, 5, 1)), "haemostasis-time sheath-out-twice [sheath-removed 2026-03-02T15:00:00Z, sheath-removed 2026-03-02T15:05:01Z] from 13 16 Procedure/p1"},
      {"out, in again, and out", all(event(sheath_inserted, hm(15, 30)), event(sheath_removed, hm(15, 40)), event(compression_started, hm(15, 40))), ""},
  });
  Chart pulled = plain_chart(6);
  pull_at(pulled, hm(15));
  expect_conflicts(pulled, hm(16), {
      {"dry before it was out", event(haemostasis_confirmed, hm(14, 50)), "haemostasis-time t0-before-sheath-out [haemostasis-confirmed 2026-03-02T14:50:00Z, sheath-removed 2026-03-02T15:00:00Z] from 15 13 Procedure/p1"},
      {"dry before it was out, and again after", all(event(haemostasis_confirmed, hm(14, 50)), event(haemostasis_confirmed, hm(15, 30))), "haemostasis-time t0-before-sheath-out [haemostasis-confirmed 2026-03-02T14:50:00Z, sheath-removed 2026-03-02T15:00:00Z] from 15 13 Procedure/p1"},
      {"dry as it came out", event(haemostasis_confirmed, hm(15)), ""},
  });
  expect_conflicts(plain_chart(6), hm(16), {
      {"pressed with the sheath in", all(event(sheath_inserted, hm(12, 5)), event(compression_started, hm(14))), "haemostasis-time pressed-with-sheath-in [compression 2026-03-02T14:00:00Z, sheath-inserted 2026-03-02T12:05:00Z] from 9 Procedure/p1"},
      {"dry with the sheath in", all(event(sheath_inserted, hm(12, 5)), event(haemostasis_confirmed, hm(14))), "haemostasis-time haemostasis-with-sheath-in [sheath-inserted 2026-03-02T12:05:00Z, haemostasis-confirmed 2026-03-02T14:00:00Z] from 9 10 Procedure/p1"},
      {"in alone", event(sheath_inserted, hm(12, 5)), ""},
  });
  // Disputed times are no T0, and say so at each step.
  Chart twice = dry_at_1520();
  twice.event(sheath_removed, hm(15, 6));
  const auto plan = twice.plan(hm(16));
  EXPECT_FALSE(plan.sites[0].t0);
  EXPECT_EQ(say(step(plan, Step::stand_and_walk)), "blocked 360min t0+360 | withheld.conflict{fact=@fact.haemostasis-time about=@conflict.sheath-out-twice}");
  EXPECT_EQ(say(step(plan, Step::end_compression)), "blocked 20min | withheld.conflict{fact=@fact.haemostasis-time about=@conflict.sheath-out-twice}");
}

TEST(ConflictSays, WhatTheSiteIs) {
  const Source device{"Device/d", "1", false}, text{"Procedure/note", "1", true};
  expect_conflicts(plain_chart(6), hm(13, 30), {
      {"two sides", [&](Chart& c) { c.index().sides.push_back({Side::left, device}); }, "side [left, right] from Device/d Procedure/p1 Procedure/p1"},
      {"the same side twice", [&](Chart& c) { c.index().sides.push_back({Side::right, device}); }, ""},
      {"an unknown side says nothing", [&](Chart& c) { c.index().sides.push_back({Side::unknown, device}); }, ""},
      {"two sizes", [&](Chart& c) { c.index().french.push_back({whole(7), device}); }, "sheath-size [6 F, 7 F] from Procedure/p1 Device/d Procedure/p1"},
      {"a size read as the next whole one", [&](Chart& c) { c.index().french.push_back({whole(5) + 1, device}); }, ""},
      {"a smaller size in a text is another sheath", [&](Chart& c) { c.index().french.push_back({whole(5), text}); }, ""},
      {"a larger one contradicts", [&](Chart& c) { c.index().french.push_back({whole(7), text}); }, "sheath-size [6 F, 7 F] from Procedure/p1 Procedure/note Procedure/p1"},
      {"two vessels", [&](Chart& c) { c.index().vessels.push_back({Vessel::vein, device}); }, "vessel [artery, vein] from Procedure/p1 Device/d Procedure/p1"},
      {"two closures", [&](Chart& c) { c.index().closures.push_back({Closure::mechanical, device}); }, "closure [manual, mechanical] from Procedure/p1 Device/d Procedure/p1"},
      {"an event names the other side", [](Chart& c) { c.event(compression_started, hm(13, 20)).side = Side::left; }, "side [left, right] from 9 Procedure/p1 Procedure/p1"},
      {"upsized to 7 F", [](Chart& c) { c.event(sheath_upsized, hm(12, 20)).french = whole(7); }, ""},
      {"two first sizes, one of them the upsized one", [&](Chart& c) { c.index().french.push_back({whole(7), device}); c.event(sheath_upsized, hm(12, 20)).french = whole(7); }, ""},
  });
  const auto size = [](auto change) {
    Chart chart = plain_chart(6);
    change(chart);
    const auto french = chart.plan(hm(13, 30)).sites[0].french;
    return french ? *french : 0;
  };
  EXPECT_EQ(size([](Chart& c) { c.event(sheath_upsized, hm(12, 20)).french = whole(8); }), 8);
  EXPECT_EQ(size([](Chart& c) { c.event(sheath_upsized, hm(12, 20)).french = whole(5); }), 6) << "the largest ever in it";
  EXPECT_EQ(size([](Chart& c) { c.event(sheath_upsized, hm(12, 20)); }), 0) << "to which size is not told";
  EXPECT_EQ(size([](Chart& c) { c.event(sheath_inserted, hm(12, 20)).french = whole(6); }), 6);
  EXPECT_EQ(size([](Chart& c) { c.index().french = {{whole(5) + 1, {}}}; }), 6);
  EXPECT_EQ(size([](Chart& c) { c.index().french = {{whole(5), {}}}; }), 5);
}

TEST(ConflictSays, WhereFactsBelong) {
  Chart two = plain_chart(6);
  two.procedure("p2", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
  expect_conflicts(two, hm(14), {
      {"an event of no site", event(compression_started, hm(13, 30), ""), "side event-without-site [Procedure/p1, Procedure/p2] from 9"},
      {"an event of the case", event(compression_started, hm(13, 30)), "side event-without-site [Procedure/p1, Procedure/p2] from 9"},
      {"an event of a site", event(compression_started, hm(13, 30), "Procedure/p2"), ""},
      {"an event with its side", [](Chart& c) { c.event(compression_started, hm(13, 30), "").side = Side::left; }, ""},
      {"an event of a vessel that both have", [](Chart& c) { c.event(compression_started, hm(13, 30), "").vessel = Vessel::artery; }, "side event-without-site [Procedure/p1, Procedure/p2] from 9"},
      {"an event of a vessel that neither has", [](Chart& c) { c.event(compression_started, hm(13, 30), "").vessel = Vessel::vein; }, "side event-without-site [Procedure/p1, Procedure/p2] from 9"},
      {"an event of what nobody knows", event(compression_started, hm(13, 30), "Procedure/other"), "side event-of-unknown-procedure [Procedure/p1, Procedure/p2] from 9"},
      {"a check of no site", [](Chart& c) { c.check(hm(13, 30), ""); }, "side check-without-site from 9"},
      {"a check of a site", [](Chart& c) { c.check(hm(13, 30), "Procedure/p2"); }, ""},
      {"a check with its side", [](Chart& c) { c.check(hm(13, 30), "").side = Side::right; }, ""},
  });
  const auto pressed = [&](auto change) {
    Chart chart = two;
    change(chart);
    std::string text;
    for (const auto& site : chart.plan(hm(14)).sites) text += (text.empty() ? "" : " ") + say(site.compression_started);
    return text;
  };
  EXPECT_EQ(pressed(event(compression_started, hm(13, 30), "Procedure/p2")), "- 13:30");
  EXPECT_EQ(pressed([](Chart& c) { c.event(compression_started, hm(13, 30), "").side = Side::right; }), "13:30 -");
  EXPECT_EQ(pressed([](Chart& c) { c.event(compression_started, hm(13, 30), "Procedure/p1").side = Side::left; }), "- 13:30");
  const auto looked = [&](auto change, bool same_side = false) {
    Chart chart = two;
    if (same_side) chart.record.procedures[1].sides[0].value = Side::right;
    change(chart.check(hm(13, 30), ""));
    std::string text;
    for (const auto& site : chart.plan(hm(14)).sites) text += site.last_check ? "+" : "-";
    return text;
  };
  EXPECT_EQ(looked([](SiteCheck&) {}), "--");
  EXPECT_EQ(looked([](SiteCheck&) {}, true), "++") << "both punctures are in one groin";
  EXPECT_EQ(looked([](SiteCheck& c) { c.side = Side::right; }), "+-");
  EXPECT_EQ(looked([](SiteCheck& c) { c.side = Side::right; }, true), "++");
  EXPECT_EQ(looked([](SiteCheck& c) { c.side = Side::left; }, true), "--");
  EXPECT_EQ(looked([](SiteCheck& c) { c.procedure = "Procedure/p2"; }), "-+");
  Chart one = plain_chart(6);
  one.check(hm(13, 30)).side = Side::left;
  EXPECT_FALSE(one.plan(hm(14)).sites[0].last_check) << "of the other groin";
  // Two cases that claim one groin; one that is over claims nothing.
  Chart again = plain_chart(6);
  auto& later = again.procedure("p9", 6);
  later.start = exactly(hm(13));
  later.end = exactly(hm(13, 20));
  EXPECT_EQ(joined(again.plans(hm(14)).at(0).conflicts), "side groin-claimed-twice [Procedure/p1, Procedure/p9] from Procedure/p1 Procedure/p9 Procedure/p1");
  EXPECT_EQ(joined(again.plans(hm(14)).at(1).conflicts), "side groin-claimed-twice [Procedure/p9, Procedure/p1] from Procedure/p9 Procedure/p1 Procedure/p9");
  again.record.procedures[1].sides[0].value = Side::left;
  EXPECT_EQ(joined(again.plans(hm(14)).at(0).conflicts), "");
}

TEST(ConflictSays, StatementsBesideWhatIsRecorded) {
  const auto home = [](Agent agent, bool taken = true) { return [=](Chart& c) { HomeDrug d; d.source = c.source(); d.agent = agent; d.taken = taken; d.last_dose = exactly(hm(-90)); c.record.home_drugs.push_back(d); }; };
  expect_conflicts(plain_chart(6), hm(14), {
      {"a dose", [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)); }, "anticoagulant-history statement-beside-dose [none given, heparin] from 1 9"},
      {"two doses of one drug", all([](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)); }, [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 15)); }), "anticoagulant-history statement-beside-dose [none given, heparin] from 1 9 10"},
      {"a flush", [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)).flush = true; }, ""},
      {"a statement from before the start", all([](Chart& c) { c.record.statements[0].at = exactly(hm(11, 59, 59)); }, [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)); }), ""},
      {"a statement at the start", all([](Chart& c) { c.record.statements[0].at = exactly(hm(12)); }, [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)); }), "anticoagulant-history statement-beside-dose [none given, heparin] from 1 9"},
      {"a statement of another case", all([](Chart& c) { c.record.statements[0].procedure = "Procedure/other"; }, [](Chart& c) { c.bolus(Agent::heparin, 1, hm(12, 5)); }), ""},
      {"a drug at home", home(Agent::apixaban), "home-anticoagulants statement-beside-home-drug [none, apixaban] from 2 9"},
      {"one not taken", home(Agent::apixaban, false), ""},
      {"aspirin at home", home(Agent::aspirin), ""},
      {"a list that says none", all([](Chart& c) { c.record.statements.pop_back(); c.record.home_lists.push_back({c.source(), true, exactly(hm(9))}); }, home(Agent::apixaban)), "home-anticoagulants statement-beside-home-drug [none, apixaban] from 9 10"},
      {"a list that does not", all([](Chart& c) { c.record.statements.pop_back(); c.record.home_lists.push_back({c.source(), false, exactly(hm(9))}); }, home(Agent::apixaban)), ""},
  });
}

void expect_missing(const Chart& base, Instant now, const std::vector<Row>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = base;
    row.change(chart);
    EXPECT_EQ(joined(chart.plan(now).missing), row.says);
  }
}
Chart ready_chart() {   // of plain_chart, and everything good at 14:55: 9 and 10 pressure, 11 pulse, 12 check; two haemoglobins
  Chart chart = plain_chart(6);
  chart.pressure(128, hm(14, 55));
  chart.lab(Analyte::heart_rate, 70, hm(14, 55));
  chart.check(hm(14, 55));
  chart.lab(Analyte::haemoglobin, 13.8, hm(14));
  return chart;
}

TEST(MissingSays, WhileTheSheathIsIn) {
  const char* const kEverything = "raise-head,sit-up,stand-and-walk,discharge-check";
  const std::string all_steps = std::string("remove-sheath,firm-compression,partial-compression,light-compression,end-compression,") + kEverything;
  const std::string side = "side operator blocks " + all_steps + " Procedure/p1", size = "sheath-size operator blocks " + all_steps + " Procedure/p1";
  const std::string birth = "creatinine laboratory; birth-date nurse blocks " + all_steps;
  expect_missing(ready_chart(), hm(15), {
      {"nothing", [](Chart&) {}, ""},
      {"nothing but the procedure", [](Chart& c) { c.record.measurements.clear(); c.record.statements.clear(); c.record.checks.clear(); },
       "anticoagulant-history operator blocks remove-sheath; home-anticoagulants pharmacy blocks remove-sheath; blood-pressure nurse blocks remove-sheath; heart-rate nurse blocks remove-sheath; "
       "site-check nurse blocks remove-sheath Procedure/p1; platelets laboratory blocks remove-sheath; inr laboratory blocks remove-sheath; haemoglobin laboratory blocks remove-sheath; "
       "creatinine laboratory; weight nurse; height nurse; baseline-pulses nurse Procedure/p1"},
      {"side", [](Chart& c) { c.index().sides.clear(); }, side.c_str()},
      {"size", [](Chart& c) { c.index().french.clear(); }, size.c_str()},
      {"size from text alone", [](Chart& c) { c.index().french[0].source.low_confidence = true; }, "sheath-size operator blocks remove-sheath Procedure/p1"},
      {"vessel", [](Chart& c) { c.index().vessels.clear(); }, "vessel operator blocks remove-sheath Procedure/p1"},
      {"closure", [](Chart& c) { c.index().closures.clear(); }, "closure operator blocks remove-sheath Procedure/p1"},
      {"a second haemoglobin", [](Chart& c) { c.record.measurements.pop_back(); }, "haemoglobin laboratory second-haemoglobin"},
      {"platelets: the gate and the lengths", [](Chart& c) { drop(c, Analyte::platelets); }, "platelets laboratory blocks remove-sheath"},
      {"creatinine: the lengths alone", [](Chart& c) { drop(c, Analyte::creatinine); }, "creatinine laboratory"},
      {"weight", [](Chart& c) { drop(c, Analyte::weight); }, "weight nurse"},
      {"height", [](Chart& c) { drop(c, Analyte::height); }, "height nurse"},
      {"INR, where none is demanded", [](Chart& c) { drop(c, Analyte::inr); }, ""},
      {"pressure", [](Chart& c) { drop(c, Analyte::systolic); }, "blood-pressure nurse blocks remove-sheath"},
      {"pulse", [](Chart& c) { drop(c, Analyte::heart_rate); }, "heart-rate nurse blocks remove-sheath"},
      {"check", [](Chart& c) { c.record.checks.clear(); }, "site-check nurse blocks remove-sheath Procedure/p1; baseline-pulses nurse Procedure/p1"},
      {"the pulses of before, where nobody compared", [](Chart& c) { c.record.checks[0].foot_pulse.reset(), c.record.checks[0].baseline_pulses.clear(); }, "site-check nurse blocks remove-sheath Procedure/p1; baseline-pulses nurse Procedure/p1"},
      {"and where they are written", [](Chart& c) { c.record.checks[0].foot_pulse.reset(); c.record.checks[0].baseline_pulses = "2+"; }, "site-check nurse blocks remove-sheath Procedure/p1"},
      {"an ACT after heparin", [](Chart& c) { c.record.statements.erase(c.record.statements.begin()); c.bolus(Agent::heparin, 3000, hm(12, 5)); }, "act nurse blocks remove-sheath"},
      {"the analyser, without holding", [](Chart& c) { c.record.statements.erase(c.record.statements.begin()); c.bolus(Agent::heparin, 3000, hm(12, 5)); c.lab(Analyte::act, 140, hm(14, 55)).analyser.clear(); }, "analyser nurse"},
      {"the weight for the dose of heparin", [](Chart& c) { c.record.statements.erase(c.record.statements.begin()); c.bolus(Agent::heparin, 3000, hm(12, 5)); c.lab(Analyte::act, 140, hm(14, 55)); drop(c, Analyte::weight); }, "weight nurse"},
      {"a drug that nobody knows", [](Chart& c) { c.bolus(Agent::unidentified, 1, hm(12, 30)); }, "drug-identity pharmacy blocks remove-sheath"},
  });
  Chart no_birth = ready_chart();
  no_birth.record.patient.birth.reset();
  EXPECT_EQ(joined(no_birth.plan(hm(15)).missing), "height nurse; birth-date nurse blocks " + all_steps) << "no height is an adult's without it";
}

TEST(MissingSays, OnceTheSheathIsOut) {
  Chart pressed = plain_chart(6);
  pull_at(pressed, hm(15));
  const char* const kRest = "haemostasis-time nurse blocks raise-head,sit-up,stand-and-walk,discharge-check Procedure/p1";
  expect_missing(pressed, hm(15, 19, 59), {{"while it is pressed", [](Chart&) {}, ""},
                                           {"ended alone", event(compression_ended, hm(15, 15)), kRest},
                                           {"out, nobody pressed, time not known", [](Chart& c) { c.record.access_events.pop_back(); c.record.access_events.back().at.reset(); },
                                            "haemostasis-time nurse blocks raise-head,sit-up,stand-and-walk,discharge-check Procedure/p1; sheath-removal nurse Procedure/p1; compression-start nurse blocks firm-compression,partial-compression,light-compression,end-compression Procedure/p1"}});
  expect_missing(pressed, hm(15, 20), {{"the planned hold has passed", [](Chart&) {}, kRest}});
  Chart dry = dry_at_1520();
  expect_missing(dry, hm(16), {
      {"nothing", [](Chart&) {}, ""},
      {"what lengthens because it is not known", [](Chart& c) { drop(c, Analyte::platelets); drop(c, Analyte::creatinine); drop(c, Analyte::height); }, "platelets laboratory; creatinine laboratory; height nurse"},
      {"an INR that warfarin demands", [](Chart& c) { drop(c, Analyte::inr); c.record.statements.pop_back(); HomeDrug d; d.source = c.source(); d.agent = Agent::warfarin; d.last_dose = exactly(hm(-30)); c.record.home_drugs.push_back(d); }, "inr laboratory"},
      {"what was given", [](Chart& c) { c.record.statements.erase(c.record.statements.begin()); }, "anticoagulant-history operator"},
      {"what is taken at home", [](Chart& c) { c.record.statements.pop_back(); }, "home-anticoagulants pharmacy"},
      {"sources that contradict", event(sheath_removed, hm(15, 6)), kRest},
  });
  // Under a device the pull adds nothing: what is taken at home counts where it decides the floor, or the row of a vein.
  const auto device = [](Tristate intervention, Vessel vessel) {
    Chart chart = plain_chart(6, Closure::device, vessel);
    chart.index().intervention = intervention;
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 5));
    chart.record.statements.pop_back();
    return joined(chart.plan(hm(16)).missing);
  };
  EXPECT_EQ(device(Tristate::no, Vessel::artery), "home-anticoagulants pharmacy");
  EXPECT_EQ(device(Tristate::yes, Vessel::artery), "");
  EXPECT_EQ(device(Tristate::yes, Vessel::vein), "home-anticoagulants pharmacy");
  // Unknown platelets + 2 h: 15:20 + 8 h = 23:20.
  const auto unknown = [](Chart& c) { drop(c, Analyte::platelets); };
  expect_missing(dry, hm(23, 19, 59), {{"before the rest is over", unknown, "site-check nurse blocks raise-head,sit-up Procedure/p1; platelets laboratory"}});
  expect_missing(dry, hm(23, 20), {{"once it is nobody needs it", unknown, "site-check nurse blocks raise-head,sit-up,stand-and-walk Procedure/p1"}});
  expect_missing(dry, hm(17, 20), {
      {"a look before the head comes up", [](Chart&) {}, "site-check nurse blocks raise-head Procedure/p1"},
      {"and a pressure", [](Chart& c) { c.check(hm(17, 19)); }, "blood-pressure nurse blocks raise-head"},
  });
}

TEST(MissingSays, OfWhomItIsAsked) {
  std::string text;
  for (int i = 0; i <= static_cast<int>(Fact::liver_tests); ++i) text += std::string(name_of(static_cast<Fact>(i))) + " " + std::string(name_of(asked_of(static_cast<Fact>(i)))) + ", ";
  EXPECT_EQ(text, "sheath-size operator, side operator, vessel operator, closure operator, anticoagulant-history operator, home-anticoagulants pharmacy, drug-identity pharmacy, stop-time nurse, "
                  "dose-time nurse, act nurse, aptt laboratory, analyser nurse, blood-pressure nurse, heart-rate nurse, site-check nurse, platelets laboratory, inr laboratory, haemoglobin laboratory, "
                  "fibrinogen laboratory, creatinine laboratory, weight nurse, height nurse, birth-date nurse, haemostasis-time nurse, baseline-pulses nurse, anti-xa laboratory, liver-tests laboratory, ");
}

}  // namespace
}  // namespace clinical
