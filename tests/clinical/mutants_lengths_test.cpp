// What lengthens hold and rest, line by line with its amount, the new total and the facts; at each limit, and how several combine. Amounts and limits: clinical
// model, "Modifiers" (clinical-aftercare B6, sources there): the largest, then 5 min and 1 h for each further one, at most 15 min and 4 h.
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;
using Lines = std::vector<std::string>;

// plain_chart(6): hold 20 min, rest 6 h. Sources: 1, 2 statements, 3 platelets 220, 4 INR 1.0, 5 haemoglobin 14, 6 creatinine 0.9, all 12:10; 7 weight 80, 8 height
// 178 of 08:00. What a row adds: 9, 10. Born 1 May 1966: 59. Body mass index 80 / 1.78^2 = 25.2, surface sqrt(178 * 80 / 3600) = 1.99 m2.
// Clearance (140 - 59) * 75.9 / (72 * creatinine) = 85.4 / creatinine mL/min; 75.9 kg = 73.2 + 0.4 * (80 - 73.2).
std::string adds(const CasePlan& plan, Step of) {
  std::string text;
  for (const auto& basis : step(plan, of).basis) {
    if (!basis.rule.starts_with("add.") && basis.rule != "rest.add.rebleed" && basis.rule != "rest.add.swelling" && basis.rule != "hold.closure-device.failed-add" && basis.rule != "hold.rebleed-shortest") continue;
    const auto told = say(basis);
    text += (text.empty() ? "" : "; ") + told.substr(told.find(' ') + 1);
  }
  return text;
}
struct Row {
  const char* name;
  std::function<void(Chart&)> change;
  const char *hold, *rest;
};
void expect_rows(const Chart& base, Instant now, const std::vector<Row>& rows) {
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = base;
    row.change(chart);
    const auto plan = chart.plan(now);
    EXPECT_EQ(adds(plan, Step::end_compression), row.hold);
    EXPECT_EQ(adds(plan, Step::stand_and_walk), row.rest);
  }
}
void drop(Chart& chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}
auto instead(Analyte analyte, double value, Instant at = hm(12, 10)) {
  return [=](Chart& c) { drop(c, analyte); c.lab(analyte, value, at); };
}
auto more(Analyte analyte, double value, Instant at = hm(13)) {
  return [=](Chart& c) { c.lab(analyte, value, at); };
}
auto given(Agent agent, Instant at) {
  return [=](Chart& c) { c.bolus(agent, 0, at); };
}
auto risk(RiskKind kind, Side side = Side::unknown, bool present = true) {
  return [=](Chart& c) { auto& r = c.risk(kind); r.side = side; r.present = present; };
}
template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}

TEST(LengthSays, WhatEachRiskAdds) {
  const auto puncture = [](auto change) { return [=](Chart& c) { change(c.index()); }; };
  const char* const kPunctureHold = "add.recorded{what=@add.puncture amount=5min total=25min} from Procedure/p1";
  const char* const kPunctureRest = "add.recorded{what=@add.puncture amount=1h total=7h} from Procedure/p1";
  const char* const kBodyUnknown = "add.not-recorded{what=@add.bmi-high amount=5min total=25min}";
  expect_rows(plain_chart(6), hm(13, 10), {
      {"nothing", [](Chart&) {}, "", ""},
      {"platelets 100", more(Analyte::platelets, 100), "", ""},
      {"platelets 99", more(Analyte::platelets, 99), "add.recorded{what=@add.platelets amount=5min total=25min} from 3 9", "add.recorded{what=@add.platelets amount=2h total=8h} from 3 9"},
      {"platelets not recorded", [](Chart& c) { drop(c, Analyte::platelets); }, "add.not-recorded{what=@add.platelets amount=5min total=25min}", "add.not-recorded{what=@add.platelets amount=2h total=8h}"},
      {"platelets low, and high again: the worst counts", all(more(Analyte::platelets, 90, hm(12, 30)), more(Analyte::platelets, 150)), "add.recorded{what=@add.platelets amount=5min total=25min} from 10 3 9", "add.recorded{what=@add.platelets amount=2h total=8h} from 10 3 9"},
      {"platelets low before the start: the newest one there counts", all([](Chart& c) { drop(c, Analyte::platelets); }, more(Analyte::platelets, 90, hm(10)), more(Analyte::platelets, 150, hm(11))), "", ""},
      {"platelets of a day before", instead(Analyte::platelets, 150, hm(-12)), "", ""},
      {"platelets older than that", instead(Analyte::platelets, 150, hm(-12, 0, -1)), "add.not-recorded{what=@add.platelets amount=5min total=25min}", "add.not-recorded{what=@add.platelets amount=2h total=8h}"},
      {"INR 1.5", more(Analyte::inr, 1.5), "", ""},
      {"INR 1.6", more(Analyte::inr, 1.6), "add.recorded{what=@add.inr amount=10min total=30min} from 4 9", "add.recorded{what=@add.inr amount=2h total=8h} from 4 9"},
      {"INR not recorded, none demanded", [](Chart& c) { drop(c, Analyte::inr); }, "", ""},
      {"INR not recorded, home not known", [](Chart& c) { drop(c, Analyte::inr); c.record.statements.pop_back(); }, "add.not-recorded{what=@add.inr amount=10min total=30min}", "add.not-recorded{what=@add.inr amount=2h total=8h}"},
      {"INR not recorded, warfarin at home not taken", [](Chart& c) { drop(c, Analyte::inr); HomeDrug d; d.source = c.source(); d.agent = Agent::warfarin; d.taken = false; c.record.home_drugs.push_back(d); }, "", ""},
      {"INR not recorded, warfarin at home", [](Chart& c) { drop(c, Analyte::inr); c.record.statements.pop_back(); HomeDrug d; d.source = c.source(); d.agent = Agent::warfarin; c.record.home_drugs.push_back(d); },
       "add.not-recorded{what=@add.inr amount=10min total=30min}", "add.not-recorded{what=@add.inr amount=2h total=8h}"},
      {"INR 6 h before the start, warfarin at home", [](Chart& c) { drop(c, Analyte::inr); c.record.statements.pop_back(); HomeDrug d; d.source = c.source(); d.agent = Agent::warfarin; c.record.home_drugs.push_back(d); c.lab(Analyte::inr, 1.2, hm(6)); }, "", ""},
      {"INR earlier than that", [](Chart& c) { drop(c, Analyte::inr); c.record.statements.pop_back(); HomeDrug d; d.source = c.source(); d.agent = Agent::warfarin; c.record.home_drugs.push_back(d); c.lab(Analyte::inr, 1.2, hm(5, 59, 59)); },
       "add.not-recorded{what=@add.inr amount=10min total=30min}", "add.not-recorded{what=@add.inr amount=2h total=8h}"},
      {"INR 6 to 24 h before the start, no warfarin", instead(Analyte::inr, 1.2, hm(-12)), "", ""},
      {"body mass index 35.0", instead(Analyte::weight, 110.9, hm(8)), "add.recorded{what=@add.bmi-high amount=5min total=25min} from 8 9", "add.recorded{what=@add.bmi-high amount=1h total=7h} from 8 9"},
      {"weighed again just now", more(Analyte::weight, 110.9, hm(13, 10)), "add.recorded{what=@add.bmi-high amount=5min total=25min} from 8 9", "add.recorded{what=@add.bmi-high amount=1h total=7h} from 8 9"},
      {"a creatinine of nothing is none", instead(Analyte::creatinine, 0), "", "add.not-recorded{what=@add.clearance amount=1h total=7h}"},
      {"a weight of nothing is none", instead(Analyte::weight, 0, hm(8)), kBodyUnknown, "add.not-recorded{what=@add.bmi-high amount=1h total=7h}; add.not-recorded{what=@add.clearance amount=1h total=8h}"},
      {"body mass index 34.97", instead(Analyte::weight, 110.8, hm(8)), "", ""},
      {"surface 1.7996", instead(Analyte::weight, 65.5, hm(8)), "", "add.recorded{what=@add.bmi-low amount=1h total=7h} from 8 9"},
      {"surface 1.801", instead(Analyte::weight, 65.6, hm(8)), "", ""},
      {"body mass index 18.4, surface 1.91", all(instead(Analyte::weight, 67.8, hm(8)), instead(Analyte::height, 192, hm(8))), "", "add.recorded{what=@add.bmi-low amount=1h total=7h} from 10 9"},
      {"body mass index 18.5", all(instead(Analyte::weight, 68.2, hm(8)), instead(Analyte::height, 192, hm(8))), "", ""},
      {"height not recorded: the next worse row of the clearance as well", [](Chart& c) { drop(c, Analyte::height); }, kBodyUnknown,
       "add.not-recorded{what=@add.bmi-high amount=1h total=7h}; add.recorded{what=@add.clearance amount=1h total=8h} from Patient/a 6 7"},
      {"weight not recorded", [](Chart& c) { drop(c, Analyte::weight); }, kBodyUnknown, "add.not-recorded{what=@add.bmi-high amount=1h total=7h}; add.not-recorded{what=@add.clearance amount=1h total=8h}"},
      {"75 on the day", [](Chart& c) { c.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1951} / 3 / 2}); c.lab(Analyte::creatinine, 0.5, hm(12, 20)); drop(c, Analyte::creatinine); c.lab(Analyte::creatinine, 0.5, hm(12, 20)); }, "",
       "add.recorded{what=@add.age amount=1h total=7h} from Patient/a"},
      {"75 the day after", [](Chart& c) { c.record.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1951} / 3 / 3}); drop(c, Analyte::creatinine); c.lab(Analyte::creatinine, 0.5, hm(12, 20)); }, "", ""},
      {"clearance 59.7", instead(Analyte::creatinine, 1.43), "", "add.recorded{what=@add.clearance amount=1h total=7h} from Patient/a 7 8 9"},
      {"clearance 60.1", instead(Analyte::creatinine, 1.42), "", ""},
      {"the lowest since the start", all(more(Analyte::creatinine, 1.1, hm(12, 20)), instead(Analyte::weight, 50, hm(8)), more(Analyte::weight, 80, hm(12, 30)), more(Analyte::creatinine, 1, hm(13))), "", "add.recorded{what=@add.clearance amount=1h total=7h} from Patient/a 10 11 12 6 8 9"},
      {"dialysis", risk(RiskKind::dialysis), "", "add.recorded{what=@add.clearance amount=1h total=7h}"},
      {"creatinine rising", more(Analyte::creatinine, 1.2), "", "add.recorded{what=@add.clearance amount=1h total=7h} from Patient/a 6 7 8"},
      {"creatinine not recorded", [](Chart& c) { drop(c, Analyte::creatinine); }, "", "add.not-recorded{what=@add.clearance amount=1h total=7h}"},
      {"two punctures", puncture([](Procedure& p) { p.punctures = 2; }), kPunctureHold, kPunctureRest},
      {"one puncture", puncture([](Procedure& p) { p.punctures = 1; }), "", ""},
      {"difficult", puncture([](Procedure& p) { p.difficult = true; }), kPunctureHold, kPunctureRest},
      {"high", puncture([](Procedure& p) { p.high_stick = true; }), kPunctureHold, kPunctureRest},
      {"low", puncture([](Procedure& p) { p.low_stick = true; }), kPunctureHold, kPunctureRest},
      {"upsized", [](Chart& c) { auto& e = c.event(sheath_upsized, hm(12, 30)); e.french = whole(6); }, kPunctureHold, kPunctureRest},
      {"cough", risk(RiskKind::cough), "add.recorded{what=@add.restless amount=5min total=25min} from 9", "add.recorded{what=@add.restless amount=1h total=7h} from 9"},
      {"agitation", risk(RiskKind::agitation), "add.recorded{what=@add.restless amount=5min total=25min} from 9", "add.recorded{what=@add.restless amount=1h total=7h} from 9"},
      {"steroids", risk(RiskKind::steroids), "add.recorded{what=@add.steroids amount=5min total=25min} from 9", ""},
      {"arterial disease", risk(RiskKind::arterial_disease), "add.recorded{what=@add.vessel-wall amount=5min total=25min} from 9", "add.recorded{what=@add.vessel-wall amount=1h total=7h} from 9"},
      {"severe arterial disease", risk(RiskKind::severe_arterial_disease), "add.recorded{what=@add.vessel-wall amount=5min total=25min} from 9", "add.recorded{what=@add.vessel-wall amount=1h total=7h} from 9"},
      {"calcification on this side", risk(RiskKind::calcification, Side::right), "add.recorded{what=@add.vessel-wall amount=5min total=25min} from 9", "add.recorded{what=@add.vessel-wall amount=1h total=7h} from 9"},
      {"calcification on the other", risk(RiskKind::calcification, Side::left), "", ""},
      {"cough recorded as absent", risk(RiskKind::cough, Side::unknown, false), "", ""},
      {"cough long ago", [](Chart& c) { auto& r = c.risk(RiskKind::cough); r.from = exactly(hm(-48)); r.to = exactly(hm(11, 59)); }, "", ""},
      {"cough until the start", [](Chart& c) { auto& r = c.risk(RiskKind::cough); r.from = exactly(hm(-48)); r.to = exactly(hm(12)); }, "add.recorded{what=@add.restless amount=5min total=25min} from 9", "add.recorded{what=@add.restless amount=1h total=7h} from 9"},
      {"a graft is asked about, and adds as the wall does", risk(RiskKind::graft), "add.recorded{what=@add.vessel-wall amount=5min total=25min} from 9", "add.recorded{what=@add.vessel-wall amount=1h total=7h} from 9"},
  });
}

TEST(LengthSays, WhatDrugsAdd) {
  const char* const kGpHold = "add.recorded{what=@add.gp-inhibitor amount=10min total=30min} from 9";
  const char* const kGpRest = "rest.floor{what=@add.gp-inhibitor floor=6h total=6h} from 9; add.recorded{what=@add.gp-inhibitor amount=2h total=8h} from 9";
  const char* const kLysisHold = "add.recorded{what=@add.fibrinolytic amount=15min total=35min} from 9";
  const char* const kLysisRest = "rest.floor{what=@add.fibrinolytic floor=8h total=8h} from 9; add.recorded{what=@add.fibrinolytic amount=4h total=12h} from 9";
  const auto count = more(Analyte::platelets, 200, hm(14, 6));   // 2 h after a GP inhibitor of 12:05
  expect_rows(plain_chart(6), hm(14, 10), {
      {"tirofiban", all(given(Agent::tirofiban, hm(12, 5)), count), kGpHold, kGpRest},
      {"a count from before it could act tells nothing", given(Agent::tirofiban, hm(12, 5)), "add.recorded{what=@add.gp-inhibitor amount=10min total=30min} from 9; add.not-recorded{what=@add.platelets amount=5min total=35min}",
       "rest.floor{what=@add.gp-inhibitor floor=6h total=6h} from 9; add.recorded{what=@add.gp-inhibitor amount=2h total=8h} from 9; add.not-recorded{what=@add.platelets amount=1h total=9h}"},
      {"begun two hours before the count, and ended after it", [](Chart& c) { auto& a = c.bolus(Agent::tirofiban, 0, hm(10, 10)); a.bolus = false; a.end = exactly(hm(13, 30)); }, kGpHold, kGpRest},
      {"a low count from before it could act", all(instead(Analyte::platelets, 90), given(Agent::tirofiban, hm(12, 5))), "add.recorded{what=@add.gp-inhibitor amount=10min total=30min} from 10; add.recorded{what=@add.platelets amount=5min total=35min} from 9",
       "rest.floor{what=@add.gp-inhibitor floor=6h total=6h} from 10; add.recorded{what=@add.gp-inhibitor amount=2h total=8h} from 10; add.recorded{what=@add.platelets amount=1h total=9h} from 9"},
      {"a day before the start", given(Agent::tirofiban, hm(-12)), kGpHold, kGpRest},
      {"earlier", given(Agent::tirofiban, hm(-12, 0, -1)), "", ""},
      {"abciximab three days before", given(Agent::abciximab, hm(-60)), kGpHold, kGpRest},
      {"abciximab earlier", given(Agent::abciximab, hm(-60, 0, -1)), "", ""},
      {"an infusion that began long ago and runs", all([](Chart& c) { auto& a = c.bolus(Agent::eptifibatide, 0, hm(-40)); a.bolus = false; a.end.reset(); a.status = AdministrationStatus::in_progress; }), kGpHold, kGpRest},
      {"a flush", all(given(Agent::tirofiban, hm(12, 5)), count, [](Chart& c) { c.record.administrations.back().flush = true; }), "", ""},
      {"alteplase", given(Agent::alteplase, hm(12, 5)), kLysisHold, kLysisRest},
      {"alteplase a day before", given(Agent::alteplase, hm(-12)), kLysisHold, kLysisRest},
      {"alteplase earlier", given(Agent::alteplase, hm(-12, 0, -1)), "", ""},
      {"aspirin", given(Agent::aspirin, hm(12, 5)), "", ""},
      {"an INR from before vitamin K, low", given(Agent::vitamin_k, hm(13)), "add.not-recorded{what=@add.inr amount=10min total=30min}", "add.not-recorded{what=@add.inr amount=2h total=8h}"},
      {"an INR from after it", all(given(Agent::vitamin_k, hm(13)), more(Analyte::inr, 1.4, hm(13, 1))), "", ""},
      {"an INR of its minute", all(given(Agent::vitamin_k, hm(13)), more(Analyte::inr, 1.4, hm(13, 0, 59))), "add.not-recorded{what=@add.inr amount=10min total=30min}", "add.not-recorded{what=@add.inr amount=2h total=8h}"},
      {"an INR from before it, high", all(instead(Analyte::inr, 1.6), given(Agent::vitamin_k, hm(13))), "add.recorded{what=@add.inr amount=10min total=30min} from 9", "add.recorded{what=@add.inr amount=2h total=8h} from 9"},
  });
  Chart dry = plain_chart(6);
  pull_at(dry, hm(15));
  dry.event(haemostasis_confirmed, hm(15, 20));
  expect_rows(dry, hm(16), {
      {"a GP inhibitor at T0", all(given(Agent::tirofiban, hm(15, 20)), more(Analyte::platelets, 200, hm(15, 10))), "add.recorded{what=@add.gp-inhibitor amount=10min total=30min} from 16; add.not-recorded{what=@add.platelets amount=5min total=35min}",
       "rest.floor{what=@add.gp-inhibitor floor=6h total=6h} from 16; add.recorded{what=@add.gp-inhibitor amount=2h total=8h} from 16; add.not-recorded{what=@add.platelets amount=1h total=9h}"},
      {"and after it", given(Agent::tirofiban, hm(15, 20, 1)), "", ""},
      {"a lytic after it", given(Agent::alteplase, hm(15, 20, 1)), "", ""},
      {"a low count after T0", more(Analyte::platelets, 50, hm(15, 20, 1)), "", ""},
      {"a low count at T0", more(Analyte::platelets, 50, hm(15, 20)), "add.recorded{what=@add.platelets amount=5min total=25min} from 16 3", "add.recorded{what=@add.platelets amount=2h total=8h} from 16 3"},
  });
}

TEST(LengthSays, HowTheyCombine) {
  expect_rows(plain_chart(6), hm(13, 10), {
      {"10 + 5, then nothing more", all(more(Analyte::inr, 1.6), more(Analyte::platelets, 90), risk(RiskKind::cough), risk(RiskKind::steroids)),
       "add.recorded{what=@add.inr amount=10min total=30min} from 4 9; add.recorded{what=@add.platelets amount=5min total=35min} from 10 3; add.recorded-capped{what=@add.restless cap=15min amount=0h total=35min} from 11; add.recorded-capped{what=@add.steroids cap=15min amount=0h total=35min} from 12",
       "add.recorded{what=@add.inr amount=2h total=8h} from 4 9; add.recorded{what=@add.platelets amount=1h total=9h} from 10 3; add.recorded{what=@add.restless amount=1h total=10h} from 11"},
      {"2 + 1 + 1, then nothing more", all(more(Analyte::inr, 1.6), risk(RiskKind::cough), risk(RiskKind::calcification), [](Chart& c) { c.index().difficult = true; }),
       "add.recorded{what=@add.inr amount=10min total=30min} from 4 9; add.recorded{what=@add.puncture amount=5min total=35min} from Procedure/p1; add.recorded-capped{what=@add.restless cap=15min amount=0h total=35min} from 10; add.recorded-capped{what=@add.vessel-wall cap=15min amount=0h total=35min} from 11",
       "add.recorded{what=@add.inr amount=2h total=8h} from 4 9; add.recorded{what=@add.puncture amount=1h total=9h} from Procedure/p1; add.recorded{what=@add.restless amount=1h total=10h} from 10; add.recorded-capped{what=@add.vessel-wall cap=4h amount=0h total=10h} from 11"},
      {"15 at once: nothing more", all(given(Agent::alteplase, hm(12, 5)), risk(RiskKind::cough)),
       "add.recorded{what=@add.fibrinolytic amount=15min total=35min} from 9; add.recorded-capped{what=@add.restless cap=15min amount=0h total=35min} from 10",
       "rest.floor{what=@add.fibrinolytic floor=8h total=8h} from 9; add.recorded{what=@add.fibrinolytic amount=4h total=12h} from 9; add.recorded-capped{what=@add.restless cap=4h amount=0h total=12h} from 10"},
  });
}

TEST(LengthSays, WhatThePullAdds) {
  const auto pulled_with = [](const std::function<void(Chart&)>& change) {
    Chart chart = intervention_chart(6);
    pull_at(chart, hm(15));
    change(chart);
    return chart.plan(hm(15, 5));
  };
  const auto hold = [&](const std::function<void(Chart&)>& change) { return adds(pulled_with(change), Step::end_compression); };
  EXPECT_EQ(hold([](Chart&) {}), "");
  EXPECT_EQ(hold([](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::act) m.value = amount(150); }), "add.recorded{what=@add.pulled-with-gate-not-open amount=10min total=30min} from 14 9");
  EXPECT_EQ(hold([](Chart& c) { c.bolus(Agent::alteplase, 0, hm(-30)); }), "add.recorded{what=@add.pulled-with-gate-not-open amount=10min total=30min} from 17") << "a lytic and no fibrinogen";
  EXPECT_EQ(hold([](Chart& c) { drop(c, Analyte::haemoglobin); drop(c, Analyte::heart_rate); c.record.checks.clear(); }), "") << "no gate of the clotting";
  EXPECT_EQ(hold([](Chart& c) { c.lab(Analyte::act, 150, hm(15, 1)); }), "") << "drawn after the pull";
  EXPECT_EQ(hold([](Chart& c) { c.record.statements.clear(); }), "add.recorded{what=@add.pulled-with-gate-not-open amount=10min total=30min}") << "what was taken at home is not told";
  EXPECT_EQ(hold([](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::heart_rate) m.value = amount(130); }), "") << "no gate of the clotting";
  EXPECT_EQ(hold([](Chart& c) { for (auto& e : c.record.access_events) if (e.kind == sheath_removed) e.at.reset(); }), "add.not-recorded{what=@add.pulled-with-gate-not-open amount=10min total=30min}");
  EXPECT_EQ(adds(pulled_with([](Chart& c) { for (auto& m : c.record.measurements) if (m.analyte == Analyte::act) m.value = amount(150); }), Step::stand_and_walk), "add.recorded{what=@add.pulled-with-gate-not-open amount=2h total=8h} from 14 9");
}

TEST(LengthSays, TroubleAfterT0) {
  Chart dry = plain_chart(6);
  pull_at(dry, hm(15));
  dry.event(haemostasis_confirmed, hm(15, 20));
  const auto swollen = [](double cm, Instant at, bool grows = false) { return [=](Chart& c) { auto& k = c.check(at); k.swelling = amount(cm, "cm"); k.growth = grows; }; };
  const auto again = [](Instant at, Instant until) { return [=](Chart& c) { c.event(compression_started, at); c.event(haemostasis_confirmed, until); }; };
  // Sources: 9 to 12 at the pull without an ACT, 13 out, 14 pressed, 15 dry; 16 on.
  expect_rows(dry, hm(17), {
      {"4.9 cm", swollen(4.9, hm(15, 40)), "", "rest.swelling{at=15:40 size=4.9 cm amount=2h total=8h} from 16"},
      {"the first of two", all(swollen(2, hm(15, 40)), swollen(3, hm(15, 50))), "", "rest.swelling{at=15:40 size=2 cm amount=2h total=8h} from 16"},
      {"swollen before the pull", swollen(2, hm(14)), "", "rest.swelling{at=14:00 size=2 cm amount=2h total=8h} from 16"},
      {"rebleed", again(hm(15, 40), hm(16)), "hold.floor{what=@floor.rebleed floor=20min total=20min}; hold.floor{what=@floor.first-hold floor=20min total=20min} from 14", "rest.rebleed{at=15:40 amount=2h total=8h}"},
      {"twice", all(again(hm(15, 40), hm(16)), again(hm(16, 10), hm(16, 30))), "hold.floor{what=@floor.rebleed floor=20min total=20min}; hold.floor{what=@floor.first-hold floor=20min total=20min} from 14",
       "rest.rebleed{at=15:40 amount=2h total=8h}; rest.rebleed{at=16:10 amount=2h total=10h}"},
      {"160 on bed rest", [](Chart& c) { c.pressure(160, hm(16)); }, "", "add.recorded{what=@add.systolic-on-rest amount=1h total=7h} from 16"},
      {"159", [](Chart& c) { c.pressure(159, hm(16)); }, "", ""},
      {"160 at T0, not after it", [](Chart& c) { c.pressure(160, hm(15, 20)); }, "", ""},
      {"160 within the adds at most 4 h", all([](Chart& c) { c.pressure(160, hm(16)); }, more(Analyte::inr, 1.6, hm(13)), more(Analyte::platelets, 90, hm(13)), risk(RiskKind::cough)),
       "add.recorded{what=@add.inr amount=10min total=30min} from 18 4; add.recorded{what=@add.pulled-with-gate-not-open amount=5min total=35min} from 18; add.recorded-capped{what=@add.platelets cap=15min amount=0h total=35min} from 19 3; add.recorded-capped{what=@add.restless cap=15min amount=0h total=35min} from 20",
       "add.recorded{what=@add.inr amount=2h total=8h} from 18 4; add.recorded{what=@add.platelets amount=1h total=9h} from 19 3; add.recorded{what=@add.pulled-with-gate-not-open amount=1h total=10h} from 18; add.recorded-capped{what=@add.restless cap=4h amount=0h total=10h} from 20; add.recorded{what=@add.systolic-on-rest amount=0h total=10h} from 16"},
  });
  // 21:20 is the end of 6 h: a pressure of that instant still counts, one after it no longer.
  Chart late = dry;
  late.pressure(160, hm(21, 20));
  EXPECT_EQ(adds(late.plan(hm(21, 30)), Step::stand_and_walk), "add.recorded{what=@add.systolic-on-rest amount=1h total=7h} from 16");
  late.record.measurements[late.record.measurements.size() - 2].at = exactly(hm(21, 20, 1));
  EXPECT_EQ(adds(late.plan(hm(21, 30)), Step::stand_and_walk), "");
  // 5 cm at 16:00 voids the T0 of 15:20; dry again 16:40: no hours, but 15:20 + 6 h + 2 h = 23:20 = 16:40 + 400 min is the least.
  Chart outgrown = dry;
  outgrown.check(hm(16)).swelling = amount(5, "cm");
  outgrown.event(haemostasis_confirmed, hm(16, 40));
  EXPECT_EQ(adds(outgrown.plan(hm(17)), Step::stand_and_walk), "rest.outgrown{from=15:20 length=8h floor=400min total=400min}");
  outgrown.record.access_events.back().at = exactly(hm(17, 20));
  EXPECT_EQ(adds(outgrown.plan(hm(17, 30)), Step::stand_and_walk), "") << "17:20 + 6 h = 23:20";
  outgrown.record.access_events.back().at = exactly(hm(17, 19, 30));
  EXPECT_EQ(adds(outgrown.plan(hm(17, 30)), Step::stand_and_walk), "rest.outgrown{from=15:20 length=8h floor=361min total=361min}") << "rounded up";
}

// Rows: 15 = 10 + 3 + 2, 20 = 12 + 5 + 3, 25 = 15 + 6 + 4, 30 = 20 + 6 + 4 (clinical-aftercare B1); adds go to the firm part. Vein: firm only; device: light only.
TEST(LengthSays, HowTheHoldIsSplit) {
  const auto split = [](const Chart& chart, Instant now = hm(13, 10)) {
    std::string text;
    const auto plan = chart.plan(now);
    for (const auto& m : plan.sites[0].milestones)
      if (m.step >= Step::firm_compression && m.step <= Step::end_compression) text += (text.empty() ? "" : " ") + std::to_string(m.planned.value_or(minutes{-1}).count());
    return text;
  };
  EXPECT_EQ(split(plain_chart(4)), "10 3 2 15");
  EXPECT_EQ(split(plain_chart(5)), "10 3 2 15");
  EXPECT_EQ(split(plain_chart(6)), "12 5 3 20");
  EXPECT_EQ(split(plain_chart(7)), "15 6 4 25");
  EXPECT_EQ(split(plain_chart(8)), "15 6 4 25");
  EXPECT_EQ(split(plain_chart(9)), "20 6 4 30");
  EXPECT_EQ(split(plain_chart(10)), "20 6 4 30");
  EXPECT_EQ(split(intervention_chart(5)), "12 5 3 20");
  Chart harder = plain_chart(6);
  harder.index().difficult = true;
  EXPECT_EQ(split(harder), "17 5 3 25");
  EXPECT_EQ(split(plain_chart(6, Closure::device)), "5 5");
  EXPECT_EQ(split(plain_chart(6, Closure::suture)), "5 5");
  EXPECT_EQ(split(plain_chart(6, Closure::manual, Vessel::vein)), "10 10");
  EXPECT_EQ(split(plain_chart(8, Closure::manual, Vessel::vein)), "10 10");
  EXPECT_EQ(split(plain_chart(9, Closure::manual, Vessel::vein)), "15 15");
  EXPECT_EQ(split(intervention_chart(6)), "12 5 3 20");
  Chart vein = plain_chart(6, Closure::manual, Vessel::vein);
  vein.index().punctures = 2;
  EXPECT_EQ(split(vein), "20 20") << "15 and 5 for two punctures";
  // With a clamp: 3 full, partial and steps by size, low pressure 60; unknown pressure at the pull + 30.
  Chart clamp = plain_chart(6, Closure::mechanical);
  const auto parts = [&] { return split(clamp, hm(13, 10)); };
  const auto without = parts();
  clamp.pressure(120, hm(13, 5));
  const auto with = parts();
  const auto number = [](const std::string& text, std::size_t which) {
    std::size_t at = 0;
    while (which-- > 0) at = text.find(' ', at) + 1;
    return std::stoi(text.substr(at));
  };
  EXPECT_EQ(number(without, 3) - number(with, 3), 30);
  EXPECT_EQ(number(with, 0), 3);
  EXPECT_EQ(number(with, 3), 60);
  EXPECT_EQ(number(with, 0) + number(with, 1) + number(with, 2) + number(with, 3), number(with, 4));
}

TEST(LengthSays, WhatMakesTheLowPressureLonger) {
  const auto low = [](const std::function<void(Chart&)>& change, int french = 6) {
    Chart chart = plain_chart(french, Closure::mechanical);
    chart.pressure(120, hm(13, 5));
    change(chart);
    return step(chart.plan(hm(13, 10)), Step::low_pressure_hold).planned.value_or(minutes{-1}).count();
  };
  EXPECT_EQ(low([](Chart&) {}), 60);
  EXPECT_EQ(low([](Chart&) {}, 7), 60);
  EXPECT_EQ(low([](Chart&) {}, 8), 90);
  EXPECT_EQ(low(more(Analyte::platelets, 99, hm(13))), 90);
  EXPECT_EQ(low(more(Analyte::inr, 1.6, hm(13))), 90);
  EXPECT_EQ(low([](Chart& c) { c.pressure(150, hm(13, 8)); }), 90);
  EXPECT_EQ(low([](Chart& c) { c.pressure(149, hm(13, 8)); }), 60);
  EXPECT_EQ(low(instead(Analyte::weight, 110.9, hm(8))), 90);
  EXPECT_EQ(low([](Chart& c) { c.index().intervention = Tristate::yes; }), 90);
  EXPECT_EQ(low([](Chart& c) { c.index().intervention = Tristate::unknown; }), 90);
  EXPECT_EQ(low([](Chart& c) { c.index().punctures = 2; }), 90);
  EXPECT_EQ(low([](Chart& c) { c.index().difficult = true; }), 60) << "one puncture, if a difficult one";
  EXPECT_EQ(low(all(more(Analyte::platelets, 99, hm(13)), more(Analyte::inr, 1.6, hm(13)), [](Chart& c) { c.pressure(150, hm(13, 8)); c.index().punctures = 2; c.index().intervention = Tristate::yes; })), 180) << "at most";
}

TEST(LengthSays, HeadSittingAndDischarge) {
  const auto times = [](const Chart& chart) {
    const auto plan = chart.plan(hm(13, 10));
    std::string text;
    for (const auto s : {Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check}) text += (text.empty() ? "" : " ") + std::to_string(step(plan, s).after_t0.value_or(minutes{-1}).count());
    return text;
  };
  EXPECT_EQ(times(plain_chart(4)), "120 210 240 300");
  EXPECT_EQ(times(plain_chart(8)), "120 450 480 540");
  EXPECT_EQ(times(plain_chart(9)), "180 450 480 540");
  EXPECT_EQ(times(intervention_chart(4)), "120 330 360 420");
  EXPECT_EQ(times(plain_chart(6, Closure::device)), "60 90 120 180");
  EXPECT_EQ(times(intervention_chart(6, Closure::device)), "60 210 240 360") << "not before 6 h with an intervention";
  EXPECT_EQ(times(plain_chart(7, Closure::device)), "120 210 240 300");
  EXPECT_EQ(times(plain_chart(8, Closure::device)), "120 210 240 300");
  EXPECT_EQ(times(plain_chart(9, Closure::device)), "120 330 360 420");
  EXPECT_EQ(times(plain_chart(6, Closure::manual, Vessel::vein)), "120 210 240 300");
  EXPECT_EQ(times(plain_chart(9, Closure::manual, Vessel::vein)), "120 330 360 420");
  EXPECT_EQ(times(plain_chart(9, Closure::suture, Vessel::vein)), "120 210 240 300");
  Chart unknown = plain_chart(9);
  unknown.index().vessels.clear();
  EXPECT_EQ(times(unknown), "180 450 480 540") << "the larger row of the two, quantity by quantity";
}

}  // namespace
}  // namespace clinical
