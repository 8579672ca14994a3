// The rows of the agents in full, cautions, why a site is watched more closely, who may not walk early, and which words of a decision quote a value.
// Half-lives and amounts: clinical-drugs.md as the protocol states them (sources there); exclusions: the trials named beside the early rows.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "clinical/decision.h"
#include "clinical/quantity.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

// Of plain_chart: 1, 2 statements, 3 platelets, 4 INR, 5 haemoglobin, 6 creatinine 0.9, 7 weight 80 kg, 8 height; what a row adds: 9, 10. Clearance 94.9 mL/min.
std::string rows_of(const CasePlan& plan) {
  std::string text;
  for (const auto& r : plan.agents) {
    text += (text.empty() ? "" : "; ") + std::string(name_of(r.agent)) + (r.running ? " running" : "") + (r.last_given ? " " + say(*r.last_given) : "");
    if (r.half_life) text += " " + std::to_string(r.half_life->count()) + "min";
    if (r.fraction_left) text += fmt::format(" left {:.4f}", *r.fraction_left);
    if (r.total) text += " " + r.total->written;
    if (r.total_per_kg) text += " = " + r.total_per_kg->written;
    for (const auto& basis : r.basis) text += " | " + say(basis);
  }
  return text;
}
struct Row {
  const char* name;
  std::function<void(Chart&)> change;
  std::string says;
};
void drop(Chart& chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}
auto bolus(Agent agent, double amount_, Instant at, DoseUnit unit = DoseUnit::international_unit) {
  return [=](Chart& c) { c.bolus(agent, amount_, at).dose->unit = unit; };
}
auto infusion(Agent agent, double per_hour, Instant from, std::optional<Instant> to, DoseUnit unit = DoseUnit::international_unit) {
  return [=](Chart& c) {
    auto& a = c.bolus(agent, 0, from);
    a.bolus = false;
    a.dose.reset();
    a.rate = Rate{amount(per_hour), unit, false};
    a.end = to ? std::optional(exactly(*to)) : std::nullopt;
    if (!to) a.status = AdministrationStatus::in_progress;
  };
}
template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}
auto per_kg = [](Chart& c) { c.record.administrations.back().dose->per_kg = true; };
auto no_weight = [](Chart& c) { drop(c, Analyte::weight); };

// Heparin: 30 min at 25 U/kg, 60 at 100, 150 at 400, straight between them; of the amount present at the last dose, older doses fallen with the longest.
TEST(AgentSays, WhatWasGivenAndWhatIsLeft) {
  const double left_of_two = 3000 + 5000 * std::exp2(-60.0 / 150);            // 6789 U = 84.9 U/kg
  const double half_of_two = 30 + 30 * (left_of_two / 80 - 25) / 75;         // 53.9 min
  const double present = 3000 + 5000 * std::exp2(-60 / (std::round(half_of_two * 60) / 60));
  const double later = 3000 * std::exp2(-60 / (std::round(half_of_two * 60) / 60)) + 5000 * std::exp2(-120 / (std::round(half_of_two * 60) / 60));
  const double infused = 3000;   // U an hour from 13:05 to 14:05
  const double k = std::log(2) / 150, kept = infused / 60 / k * (1 - std::exp(-k * 60));   // present at the end, with 150 min: 2626 U = 32.8 U/kg
  const double half_infused = 30 + 30 * (kept / 80 - 25) / 75;
  const std::string half = "half-life.heparin-100-per-kg agent.heparin-half-life";
  const std::vector<Row> rows{
      {"62.5 U/kg", bolus(Agent::heparin, 5000, hm(12, 5)), fmt::format("heparin 12:05 45min left {:.4f} 5000 U = 62.5 U/kg | {}{{dose=63 U/kg half-life=45min}} from 9", std::exp2(-120.0 / 45), half)},
      {"25 U/kg", bolus(Agent::heparin, 2000, hm(12, 5)), "heparin 12:05 30min left 0.0625 2000 U = 25 U/kg | half-life.heparin-25-per-kg agent.heparin-half-life{dose=25 U/kg half-life=30min} from 9"},
      {"100 U/kg", bolus(Agent::heparin, 8000, hm(12, 5)), "heparin 12:05 60min left 0.2500 8000 U = 100 U/kg | " + half + "{dose=100 U/kg half-life=1h} from 9"},
      {"250 U/kg", bolus(Agent::heparin, 20000, hm(12, 5)), fmt::format("heparin 12:05 105min left {:.4f} 20000 U = 250 U/kg | half-life.heparin-400-per-kg agent.heparin-half-life{{dose=250 U/kg half-life=105min}} from 9", std::exp2(-120.0 / 105))},
      {"over 400 U/kg", bolus(Agent::heparin, 40000, hm(12, 5)), fmt::format("heparin 12:05 150min left {:.4f} 40000 U = 500 U/kg | half-life.heparin-400-per-kg agent.heparin-half-life{{dose=500 U/kg half-life=150min}} from 9", std::exp2(-120.0 / 150))},
      {"as U/kg", all(bolus(Agent::heparin, 100, hm(12, 5)), per_kg), "heparin 12:05 60min left 0.2500 8000 U = 100 U/kg | " + half + "{dose=100 U/kg half-life=1h} from 9"},
      {"as U/kg, weight not known", all(bolus(Agent::heparin, 100, hm(12, 5)), per_kg, no_weight), "heparin 12:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"weight not known", all(bolus(Agent::heparin, 5000, hm(12, 5)), no_weight), "heparin 12:05 5000 U |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"two doses", all(bolus(Agent::heparin, 5000, hm(12, 5)), bolus(Agent::heparin, 3000, hm(13, 5))),
       fmt::format("heparin 13:05 54min left {:.4f} 8000 U = 100 U/kg | {}{{dose=85 U/kg half-life=54min}} from 9 10", later / present, half)},
      {"an infusion by its rate", infusion(Agent::heparin, infused, hm(13, 5), hm(14, 5)), fmt::format("heparin 14:05 {:.0f}min left 1.0000 3000 U = 37.5 U/kg | {}{{dose=33 U/kg half-life={:.0f}min}} from 9", half_infused, half, half_infused)},
      {"running", infusion(Agent::heparin, 1000, hm(13), {}), "heparin running |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"a dose that nobody knows", bolus(Agent::heparin, 0, hm(12, 5)), "heparin 12:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"one of two not known: no total", all(bolus(Agent::heparin, 5000, hm(12, 5)), bolus(Agent::heparin, 0, hm(13, 5))), "heparin 13:05 |  agent.no-half-life{agent=@agent.heparin} from 9 10"},
      {"two units: no total", all(bolus(Agent::heparin, 5000, hm(12, 5)), bolus(Agent::heparin, 50, hm(13, 5), DoseUnit::milligram)), "heparin 13:05 |  agent.no-half-life{agent=@agent.heparin} from 9 10"},
      {"somewhere over 5000", all(bolus(Agent::heparin, 5000, hm(12, 5)), [](Chart& c) { c.record.administrations.back().dose->amount.comparator = Comparator::greater; }), "heparin 12:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"in drops", bolus(Agent::heparin, 5000, hm(12, 5), DoseUnit::other), "heparin 12:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"at a rate somewhere over 3000", all(infusion(Agent::heparin, 3000, hm(13, 5), hm(14, 5)), [](Chart& c) { c.record.administrations.back().rate->amount.comparator = Comparator::greater; }), "heparin 14:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"at a rate in drops", infusion(Agent::heparin, 3000, hm(13, 5), hm(14, 5), DoseUnit::other), "heparin 14:05 |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"time not exact", all(bolus(Agent::heparin, 5000, hm(12, 5)), [](Chart& c) { c.record.administrations.back().start = c.record.administrations.back().end = Moment{hm(12), hm(12, 5)}; }), "heparin |  agent.no-half-life{agent=@agent.heparin} from 9"},
      {"enoxaparin", bolus(Agent::enoxaparin, 40, hm(12, 5), DoseUnit::milligram), fmt::format("enoxaparin 12:05 420min left {:.4f} 40 mg = 0.5 mg/kg | half-life.enoxaparin agent.half-life{{half-life=7h}} from Patient/a 6 7 8 9", std::exp2(-120.0 / 420))},
      {"enoxaparin, no amount: of the last dose", bolus(Agent::enoxaparin, 0, hm(12, 5)), fmt::format("enoxaparin 12:05 420min left {:.4f} | half-life.enoxaparin agent.half-life{{half-life=7h}} from Patient/a 6 7 8 9", std::exp2(-120.0 / 420))},
      {"enoxaparin, kidneys not known", all(bolus(Agent::enoxaparin, 40, hm(12, 5), DoseUnit::milligram), [](Chart& c) { drop(c, Analyte::creatinine); }), "enoxaparin 12:05 40 mg = 0.5 mg/kg |  agent.no-half-life{agent=@agent.enoxaparin} from 9"},
      {"a tablet at home", [](Chart& c) { c.record.statements.pop_back(); HomeDrug d; d.source = c.source(); d.agent = Agent::rivaroxaban; d.last_dose = exactly(hm(1, 5)); c.record.home_drugs.push_back(d); }, "rivaroxaban 01:05 780min left 0.5000 | half-life.rivaroxaban agent.half-life{half-life=13h} from 9"},
      {"without a rule", bolus(Agent::other_antithrombotic, 80, hm(12, 5)), "other antithrombotic 12:05 80 U = 1 U/kg |  agent.no-half-life{agent=@agent.other antithrombotic} from 9"},
      {"no antithrombotic", bolus(Agent::other, 1, hm(12, 5)), ""},
      {"nobody knows which", bolus(Agent::unidentified, 1, hm(12, 5)), ""},
      {"a flush", all(bolus(Agent::heparin, 500, hm(12, 5)), [](Chart& c) { c.record.administrations.back().flush = true; }), ""},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    Chart chart = plain_chart(6);
    row.change(chart);
    EXPECT_EQ(rows_of(chart.plan(hm(14, 5))), row.says);
  }
}

TEST(CautionSays, WhatToKeepInMind) {
  const auto cautions = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    change(chart);
    std::string text;
    for (const auto& c : chart.plan(hm(14)).cautions) text += (text.empty() ? "" : "; ") + say(c);
    return text;
  };
  const auto flushed = [](auto change) { return all(change, [](Chart& c) { c.record.administrations.back().flush = true; }); };
  EXPECT_EQ(cautions([](Chart&) {}), "");
  EXPECT_EQ(cautions([](Chart& c) { c.risk(RiskKind::heparin_induced_thrombocytopenia); }), "caution.hit");
  EXPECT_EQ(cautions([](Chart& c) { c.risk(RiskKind::heparin_induced_thrombocytopenia).present = false; }), "");
  EXPECT_EQ(cautions(all(bolus(Agent::heparin, 1, hm(12, 5)), bolus(Agent::dalteparin, 1, hm(8)))), "caution.two-heparins");
  EXPECT_EQ(cautions(bolus(Agent::dalteparin, 1, hm(8))), "");
  EXPECT_EQ(cautions(all(bolus(Agent::dalteparin, 1, hm(8)), flushed(bolus(Agent::heparin, 1, hm(12, 5))))), "");
  EXPECT_EQ(cautions(bolus(Agent::abciximab, 1, hm(12, 5))), "caution.gp-inhibitor{limit=100}");
  EXPECT_EQ(cautions(flushed(bolus(Agent::abciximab, 1, hm(12, 5)))), "");
  EXPECT_EQ(cautions(bolus(Agent::reteplase, 1, hm(12, 5))), "caution.fibrinolytic");
  // Protamine 2 h, andexanet 2 h, idarucizumab 24 h, prothrombin complex 12 h.
  EXPECT_EQ(cautions(bolus(Agent::protamine, 1, hm(13))), "caution.rebound{agent=@agent.protamine at=13:00 until=15:00}");
  EXPECT_EQ(cautions(all(bolus(Agent::protamine, 1, hm(13)), bolus(Agent::protamine, 1, hm(13, 30)), bolus(Agent::protamine, 1, hm(13, 10)))), "caution.rebound{agent=@agent.protamine at=13:30 until=15:30}");
  EXPECT_EQ(cautions(infusion(Agent::protamine, 1, hm(13), {})), "caution.rebound{agent=@agent.protamine at=13:00 until=15:00}") << "its start, where no end is recorded";
  EXPECT_EQ(cautions(all(bolus(Agent::protamine, 1, hm(13)), [](Chart& c) { c.record.administrations.back().end = Moment{hm(13), hm(13, 10)}; })), "caution.rebound-time-unknown{agent=@agent.protamine}");
  EXPECT_EQ(cautions(bolus(Agent::andexanet_alfa, 1, hm(11))), "caution.rebound{agent=@agent.andexanet alfa at=11:00 until=13:00}; caution.anti-xa-invalid");
  EXPECT_EQ(cautions(bolus(Agent::idarucizumab, 1, hm(11))), "caution.rebound{agent=@agent.idarucizumab at=11:00 until=+1d 11:00}");
  EXPECT_EQ(cautions(bolus(Agent::prothrombin_complex, 1, hm(11))), "caution.rebound{agent=@agent.prothrombin complex at=11:00 until=23:00}");
  EXPECT_EQ(cautions(all(bolus(Agent::prothrombin_complex, 1, hm(11)), bolus(Agent::vitamin_k, 1, hm(11)))), "");
  EXPECT_EQ(cautions(all(bolus(Agent::idarucizumab, 1, hm(11)), bolus(Agent::vitamin_k, 1, hm(11)))), "caution.rebound{agent=@agent.idarucizumab at=11:00 until=+1d 11:00}");
  EXPECT_EQ(cautions([](Chart& c) { c.record.patient.sex = Sex::female; }), "caution.retroperitoneal");
  EXPECT_EQ(cautions([](Chart& c) { c.index().high_stick = true; }), "caution.retroperitoneal");
  EXPECT_EQ(cautions([](Chart& c) { c.index().low_stick = true; }), "caution.low-stick");
  EXPECT_EQ(cautions([](Chart& c) { c.index().direction = Direction::antegrade; }), "caution.antegrade");
  EXPECT_EQ(cautions([](Chart& c) { c.index().direction = Direction::retrograde; }), "");
  EXPECT_EQ(cautions([](Chart& c) { c.risk(RiskKind::arterial_disease); }), "caution.arterial-disease");
  EXPECT_EQ(cautions([](Chart& c) { c.risk(RiskKind::severe_arterial_disease); }), "caution.arterial-disease");
  EXPECT_EQ(cautions([](Chart& c) { c.risk(RiskKind::agitation); }), "caution.agitation");
}

Chart trial_patient() {   // of plain_chart and: 9, 10 pressure 128/75, 11 pulse, 12 check of 14:55; 13 out and 14 pressed 15:00; 15 dry 15:40; 16 check 15:55
  Chart chart = plain_chart(6);
  chart.index().uncomplicated = true;
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 40));
  chart.check(hm(15, 55));
  return chart;
}
std::string excluded(const std::function<void(Chart&)>& change, Instant now = hm(16)) {
  Chart chart = trial_patient();
  change(chart);
  std::string text;
  const auto plan = chart.plan(now, early_walk());
  for (const auto& basis : step(plan, Step::stand_and_walk).basis) {
    if (!basis.rule.starts_with("early-walk.excluded.")) continue;
    text += (text.empty() ? "" : "; ") + basis.rule.substr(20) + (basis.arithmetic.code == "rest.early-met" ? "" : "?") + (basis.inputs.empty() ? "" : " " + say(basis.inputs));
    EXPECT_EQ(say(basis.arithmetic), (basis.arithmetic.code + "{what=@early." + basis.rule.substr(20) + "}"));
  }
  return text;
}

TEST(EarlyWalkSays, WhoIsLeftOutAndByWhichFact) {
  const auto statement_gone = [](std::size_t which) { return [=](Chart& c) { c.record.statements.erase(c.record.statements.begin() + static_cast<std::ptrdiff_t>(which)); }; };
  const auto home = [](Agent agent, bool taken = true) { return [=](Chart& c) { HomeDrug d; d.source = c.source(); d.agent = agent; d.taken = taken; d.last_dose = exactly(hm(-100)); c.record.home_drugs.push_back(d); }; };
  const auto lab = [](Analyte a, double v, Instant at) { return [=](Chart& c) { c.lab(a, v, at); }; };
  const auto look = [](const std::function<void(SiteCheck&)>& change, Instant at = hm(15, 58)) { return [=](Chart& c) { change(c.check(at)); }; };
  EXPECT_EQ(excluded([](Chart&) {}), "");
  EXPECT_EQ(excluded([](Chart& c) { c.index().vessels[0].source.low_confidence = true; }), "access?");
  EXPECT_EQ(excluded([](Chart& c) { c.index().french[0].source.low_confidence = true; }), "access?");
  EXPECT_EQ(excluded([](Chart& c) { c.index().vessels.clear(); }), "access?");
  EXPECT_EQ(excluded([](Chart& c) { c.index().closures[0].source.low_confidence = true; }), "closure?");
  EXPECT_EQ(excluded([](Chart& c) { c.index().closures.clear(); }), "closure?; short-hold?; bleeding?") << "a clamp may still be on: no T0";
  EXPECT_EQ(excluded([](Chart& c) { c.record.access_events[1].method = Closure::manual; }), "");
  EXPECT_EQ(excluded([](Chart& c) { c.index().closures[0].value = Closure::mechanical; c.record.access_events[1].method = Closure::manual; }), "closure Procedure/p1");
  EXPECT_EQ(excluded([](Chart& c) { c.index().intervention = Tristate::yes; }), "intervention Procedure/p1");
  EXPECT_EQ(excluded([](Chart& c) { c.index().intervention = Tristate::unknown; }), "intervention?");
  EXPECT_EQ(excluded(statement_gone(0)), "anticoagulant?; gp-inhibitor?; gate-not-open") << "nobody told what was given";
  EXPECT_EQ(excluded(statement_gone(1)), "anticoagulant?; home-anticoagulant?; gate-not-open") << "nobody told what is taken";
  EXPECT_EQ(excluded(all(statement_gone(1), home(Agent::apixaban))), "home-anticoagulant 17");
  EXPECT_EQ(excluded(home(Agent::apixaban, false)), "");
  EXPECT_EQ(excluded(home(Agent::aspirin)), "");
  EXPECT_EQ(excluded(all(statement_gone(1), home(Agent::other_antithrombotic))), "anticoagulant?; home-anticoagulant 17; gp-inhibitor?; gate-not-open 17") << "no rule covers it: the history is a question";
  EXPECT_EQ(excluded(bolus(Agent::tirofiban, 1, hm(10))), "gp-inhibitor 17") << "the count of 12:10 is 2 h after it";
  EXPECT_EQ(excluded(bolus(Agent::cangrelor, 1, hm(12, 30))), "gp-inhibitor 17");
  EXPECT_EQ(excluded(all(bolus(Agent::cangrelor, 1, hm(12, 30)), [](Chart& c) { c.record.administrations.back().flush = true; })), "");
  EXPECT_EQ(excluded(lab(Analyte::platelets, 99, hm(14))), "platelets 17");
  EXPECT_EQ(excluded(lab(Analyte::platelets, 100, hm(14))), "");
  EXPECT_EQ(excluded([](Chart& c) { drop(c, Analyte::platelets); }), "platelets?") << "that gate is none of the clotting";
  EXPECT_EQ(excluded(lab(Analyte::inr, 1.6, hm(14))), "inr 17; gate-not-open 17");
  EXPECT_EQ(excluded([](Chart& c) { drop(c, Analyte::inr); }), "inr?");
  EXPECT_EQ(excluded(lab(Analyte::platelets, 90, hm(15, 50))), "platelets 17") << "after haemostasis too";
  EXPECT_EQ(excluded(lab(Analyte::inr, 1.7, hm(15, 50))), "inr 17");
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.bleeding.reset(); c.unread = {{"bleeding", "sickert (invented)"}}; })), "bleeding?") << "nobody knows what was seen last";
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.bleeding.reset(); c.unread = {{"bleeding", "sickert (invented)"}}; }, hm(15, 50))), "bleeding?") << "nor what was seen before a dry look";
  EXPECT_EQ(excluded(lab(Analyte::inr, 1.5, hm(14))), "");
  EXPECT_EQ(excluded([](Chart& c) { c.record.access_events[0].at.reset(); }), "gate-not-open?; pressure?") << "nobody knows when it was pulled";
  EXPECT_EQ(excluded(lab(Analyte::systolic, 160, hm(14, 52))), "pressure 17") << "five minutes before the last one before the pull";
  EXPECT_EQ(excluded(lab(Analyte::systolic, 159, hm(14, 52))), "");
  EXPECT_EQ(excluded(lab(Analyte::systolic, 160, hm(14, 49))), "");
  EXPECT_EQ(excluded(lab(Analyte::systolic, 89, hm(15, 30))), "pressure 17");
  EXPECT_EQ(excluded(lab(Analyte::systolic, 90, hm(15, 30))), "");
  EXPECT_EQ(excluded(lab(Analyte::diastolic, 100, hm(15, 30))), "pressure 17");
  EXPECT_EQ(excluded(lab(Analyte::diastolic, 99, hm(15, 30))), "");
  EXPECT_EQ(excluded(lab(Analyte::mean_pressure, 170, hm(15, 30))), "");
  EXPECT_EQ(excluded([](Chart& c) { drop(c, Analyte::diastolic); }), "pressure?");
  EXPECT_EQ(excluded([](Chart& c) { drop(c, Analyte::systolic); }), "pressure?");
  for (const auto change : {+[](Procedure& p) { p.punctures = 2; }, +[](Procedure& p) { p.difficult = true; }, +[](Procedure& p) { p.high_stick = true; }, +[](Procedure& p) { p.low_stick = true; },
                            +[](Procedure& p) { p.direction = Direction::antegrade; }})
    EXPECT_EQ(excluded([=](Chart& c) { change(c.index()); }), "puncture Procedure/p1");
  EXPECT_EQ(excluded([](Chart& c) { c.event(sheath_upsized, hm(12, 30)).french = whole(6); }), "puncture Procedure/p1");
  EXPECT_EQ(excluded([](Chart& c) { c.index().uncomplicated = false; }), "puncture?");
  EXPECT_EQ(excluded([](Chart& c) { c.procedure("p2", 6, Closure::manual, Side::left).part_of = "Procedure/p1"; for (auto& e : c.record.access_events) e.side = Side::right; for (auto& k : c.record.checks) k.side = Side::right; }), "another-puncture Procedure/p2");
  EXPECT_EQ(excluded([](Chart& c) { c.record.access_events.back().at = exactly(hm(15, 19, 59)); }), "short-hold 14");
  EXPECT_EQ(excluded([](Chart& c) { c.record.access_events.back().at = exactly(hm(15, 20)); }), "");
  EXPECT_EQ(excluded([](Chart& c) { c.record.access_events.erase(c.record.access_events.begin() + 1); }), "short-hold?") << "nobody recorded when it was pressed";
  EXPECT_EQ(excluded([](Chart& c) { c.record.checks.pop_back(); }), "bleeding?");
  EXPECT_EQ(excluded([](Chart& c) { c.record.checks.back().at = exactly(hm(15, 40)); }), "") << "a look at T0";
  EXPECT_EQ(excluded([](Chart& c) { c.record.checks.back().at = exactly(hm(15, 39, 59)); }), "bleeding?");
  EXPECT_EQ(excluded([](Chart& c) { c.record.checks.back().growth.reset(); }), "bleeding?");
  EXPECT_EQ(excluded([](Chart& c) { c.record.checks.back().foot_pulse = FootPulse::weaker; }), "bleeding?");
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.bleeding = Bleeding::ooze; })), "bleeding 17");
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.wet_dressing = true; })), "bleeding 17");
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.swelling = amount(0.5, "cm"); })), "bleeding 17");
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.swelling = compared(Comparator::less, 0, "cm"); })), "bleeding 17") << "not exactly none";
  EXPECT_EQ(excluded(look([](SiteCheck& c) { c.growth = true; }, hm(14))), "bleeding 17; rebleed") << "growth before the pull as well";
  EXPECT_EQ(excluded(all([](Chart& c) { c.event(compression_started, hm(15, 50)); c.event(haemostasis_confirmed, hm(16, 30)); }, look([](SiteCheck&) {}, hm(16, 35))), hm(16, 40)), "rebleed") << "held for 40 min, as the first time";
  EXPECT_EQ(excluded(all([](Chart& c) { c.event(compression_started, hm(15, 50)); c.event(haemostasis_confirmed, hm(16, 29, 59)); }, look([](SiteCheck&) {}, hm(16, 35))), hm(16, 40)), "short-hold 17; rebleed");
}

TEST(EarlyWalkSays, WhatIsSaidOfIt) {
  const auto said = [](const std::function<void(Chart&)>& change) {
    Chart chart = trial_patient();
    change(chart);
    std::string text;
    for (const auto& c : chart.plan(hm(16), early_walk()).cautions) text += (text.empty() ? "" : "; ") + say(c);
    return text;
  };
  EXPECT_EQ(said([](Chart&) {}), "caution.early{side=@side.right french=6 length=150min}");
  EXPECT_EQ(said([](Chart& c) { c.index().difficult = true; c.lab(Analyte::inr, 1.6, hm(12, 30)); }), "caution.early-met{what=@early.inr,early.gate-not-open,early.puncture side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().uncomplicated = false; drop(c, Analyte::inr); }), "caution.early-not-recorded{what=@early.inr,early.puncture side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().difficult = true; drop(c, Analyte::inr); }), "caution.early-met{what=@early.puncture side=@side.right}; caution.early-not-recorded{what=@early.inr side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().vessels[0].value = Vessel::vein; }), "caution.early-vein{side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().closures[0].value = Closure::device; c.record.access_events.erase(c.record.access_events.begin() + 1); c.record.access_events.back().at = exactly(hm(15, 5)); }), "caution.early-device{side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().french[0].value = whole(8); }), "caution.early-no-row{french=8 side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().french[0].value = whole(3); }), "caution.early-no-row{french=3 side=@side.right}");
  EXPECT_EQ(said([](Chart& c) { c.index().french.clear(); }), "");
  EXPECT_EQ(said([](Chart& c) { c.record.patient.birth.reset(); }), "") << "withheld: no row to speak of";
}

// Why the closer watch, each once and in this order.
TEST(WatchSays, WhyASiteIsWatchedMoreClosely) {
  const auto why = [](const std::function<void(Chart&)>& change, Instant now = hm(16)) {
    Chart chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 20));
    change(chart);
    const auto site = chart.plan(now).sites.at(0);
    std::string text = site.high_watch ? "" : "usual";
    for (const auto& r : site.watched_for) text += (text.empty() ? "" : "; ") + say(r);
    return text;
  };
  const auto recorded = [](const char* what) { return std::string("watch.closer.recorded{what=@add.") + what + "}"; };
  const auto given_heparin = [](double units) { return [=](Chart& c) { c.record.statements.erase(c.record.statements.begin()); c.bolus(Agent::heparin, units, hm(12, 5)); c.lab(Analyte::act, 140, hm(14, 55)); }; };
  EXPECT_EQ(why([](Chart&) {}), "usual");
  EXPECT_EQ(why([](Chart& c) { c.index().sides.clear(); }), "watch.closer.withheld");
  EXPECT_EQ(why([](Chart& c) { c.event(rebleed, hm(15, 30)); }), "watch.closer.rebleed");
  EXPECT_EQ(why([](Chart& c) { c.event(closure_failed, hm(15, 10)); }), "watch.closer.closure-failed; watch.closer.early");
  EXPECT_EQ(why([](Chart& c) { c.check(hm(15, 30)).swelling = amount(1, "cm"); }), "watch.closer.swelling");
  EXPECT_EQ(why([](Chart& c) { c.record.access_events.back().at = exactly(hm(15, 19)); }), "watch.closer.early");
  EXPECT_EQ(why([](Chart& c) { c.pressure(160, hm(15, 30)); }), "watch.closer.pressure");
  EXPECT_EQ(why([](Chart& c) { c.index().difficult = true; c.record.access_events.back().at = exactly(hm(15, 30)); }), recorded("puncture"));
  EXPECT_EQ(why([](Chart& c) { drop(c, Analyte::platelets); c.record.access_events.back().at = exactly(hm(15, 50)); }), "watch.closer.not-recorded{what=@add.platelets}");
  EXPECT_EQ(why([](Chart& c) { c.risk(RiskKind::steroids); c.record.access_events.back().at = exactly(hm(15, 30)); }), "usual") << "they lengthen the hold alone";
  EXPECT_EQ(why([](Chart& c) { c.bolus(Agent::aspirin, 0, hm(9)); }), recorded("antiplatelet"));
  EXPECT_EQ(why([](Chart& c) { c.bolus(Agent::aspirin, 0, hm(9)).flush = true; }), "usual");
  EXPECT_EQ(why([](Chart& c) { HomeDrug d; d.source = c.source(); d.agent = Agent::clopidogrel; c.record.home_drugs.push_back(d); }), recorded("antiplatelet"));
  EXPECT_EQ(why([](Chart& c) { HomeDrug d; d.source = c.source(); d.agent = Agent::clopidogrel; d.taken = false; c.record.home_drugs.push_back(d); }), "usual");
  EXPECT_EQ(why(given_heparin(8000)), "usual") << "100 U/kg";
  EXPECT_EQ(why(given_heparin(8001)), recorded("heparin-dose"));
  EXPECT_EQ(why(all(given_heparin(4000), [](Chart& c) { c.bolus(Agent::heparin, 4001, hm(12, 15)); })), recorded("heparin-dose")) << "together";
  EXPECT_EQ(why(all(given_heparin(4000), [](Chart& c) { c.bolus(Agent::heparin, 51, hm(12, 15)).dose->per_kg = true; })), recorded("heparin-dose")) << "50 + 51 U/kg";
  EXPECT_EQ(why(all(given_heparin(8001), [](Chart& c) { auto& a = c.record.administrations.back(); a.start = a.end = exactly(hm(5, 59)); c.bolus(Agent::heparin, 1000, hm(12, 5)); })), "usual") << "6 h before the start it has gone";
  EXPECT_EQ(why(all(given_heparin(8001), [](Chart& c) { auto& a = c.record.administrations.back(); a.start = a.end = exactly(hm(6)); })), recorded("heparin-dose"));
  EXPECT_EQ(why(all(given_heparin(50), [](Chart& c) { c.record.administrations.back().dose->unit = DoseUnit::milligram; })), "watch.closer.not-recorded{what=@add.heparin-dose}");
  EXPECT_EQ(why(all(given_heparin(50), [](Chart& c) { c.record.administrations.back().dose->amount.comparator = Comparator::at_least; })), "watch.closer.not-recorded{what=@add.heparin-dose}");
  EXPECT_EQ(why(all(given_heparin(50), [](Chart& c) { c.record.administrations.back().rate = Rate{amount(1), DoseUnit::international_unit, false}; })), "watch.closer.not-recorded{what=@add.heparin-dose}");
  EXPECT_EQ(why(all(given_heparin(50), [](Chart& c) { c.record.administrations.back().dose.reset(); })), "watch.closer.not-recorded{what=@add.heparin-dose}");
  EXPECT_EQ(why([](Chart& c) { c.bolus(Agent::heparin, 500, hm(15, 30)); }), "watch.closer.heparin-again") << "given after T0, 6 U/kg";
}

TEST(DecisionQuotes, TheValueInItsNumberAndItsUnit) {
  for (const auto& [quoted, seen] : {std::pair("1.6", "1.6"), {"1.60", "1.6"}, {" 1.6", "1.6"}, {"  1.6", "1.6"}, {"155 s", "155 s"}, {"155s", "155 s"}, {"155", "155 s"}, {"155 s", "155"}, {"155.0 s", "155 s"}, {"", ""},
                                     {"11.50 g/dL", "11.5 g / dL"}, {"ooze", "ooze"}, {"100", "100.0"}, {"<150 s", "<150 s"}})
    EXPECT_TRUE(quotes(quoted, seen)) << quoted << " / " << seen;
  for (const auto& [quoted, seen] : {std::pair("1.6", "1.7"), {"155 s", "155 mmHg"}, {"", "155 s"}, {"   ", "155 s"}, {"s", "155 s"}, {"ooze", "bleeding"}, {"150", "15"}, {"150 s", "<150 s"}, {"s ", "s"}, {"10", "100"}, {"s", "g"}, {"no, wait", ""}, {"155 s", ""}})
    EXPECT_FALSE(quotes(quoted, seen)) << quoted << " / " << seen;
}

TEST(DigitsOf, WriteNoMoreThanIsThere) {
  for (const auto& [micro, text] : {std::pair<Micro, const char*>(0, "0"), {whole(5), "5"}, {1'500'000, "1.5"}, {1'050'000, "1.05"}, {-1'500'000, "-1.5"}, {1, "0.000001"}, {-whole(3), "-3"}, {999'999, "0.999999"}})
    EXPECT_EQ(digits_of(micro), text);
  EXPECT_EQ(digits_of(INT64_MIN), "-9223372036854.775808");
  EXPECT_EQ(computed(whole(5), "cm").written, "5 cm");
  EXPECT_EQ(computed(whole(120), "/min").written, "120/min");
  EXPECT_EQ(computed(whole(2), "").written, "2");
}

}  // namespace
}  // namespace clinical
