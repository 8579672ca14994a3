// Which facts belong to a case, which stay and which Procedure it is, and what counts a little before its own time. Clinical model, "Words" and "When facts change";
// the windows stand in the protocol.
#include <algorithm>

#include "clinical/ahead.h"
#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

template <class... Changes>
auto all(Changes... changes) {
  return [=](Chart& c) { (changes(c), ...); };
}
auto lab(Analyte analyte, double value, Instant at) {
  return [=](Chart& c) { c.lab(analyte, value, at); };
}

// 168 h before the start, weight 30 days, haemoglobin 7 days, a height of any age; to the end of the case.
TEST(CaseWindow, WhichFactsBelongToACase) {
  const auto shown = [](const std::function<void(Chart&)>& change, Instant now = hm(14)) {
    Chart chart = plain_chart(6);
    chart.record.measurements.clear();
    change(chart);
    const auto plan = chart.plan(now);
    return plan.shown_values.size() + plan.shown_doses.size();
  };
  const Instant week = hm(12 - 168), before_week = week - seconds{1};
  EXPECT_EQ(shown(lab(Analyte::act, 140, week)), 1u);
  EXPECT_EQ(shown(lab(Analyte::act, 140, before_week)), 0u);
  EXPECT_EQ(shown(lab(Analyte::weight, 80, hm(12 - 30 * 24))), 1u);
  EXPECT_EQ(shown(lab(Analyte::weight, 80, hm(12 - 30 * 24, 0, -1))), 0u);
  EXPECT_EQ(shown(lab(Analyte::height, 180, hm(-24 * 365 * 30))), 1u);
  EXPECT_EQ(shown([&](Chart& c) { c.bolus(Agent::heparin, 1, week); }), 1u);
  EXPECT_EQ(shown([&](Chart& c) { c.bolus(Agent::heparin, 1, before_week); }), 0u);
  EXPECT_EQ(shown([&](Chart& c) { auto& a = c.bolus(Agent::heparin, 1, before_week); a.bolus = false; a.end = exactly(week); }), 1u) << "it ended in it";
  EXPECT_EQ(shown([&](Chart& c) { auto& a = c.bolus(Agent::heparin, 1, hm(-24 * 60)); a.bolus = false; a.end.reset(); a.status = AdministrationStatus::in_progress; }), 1u) << "it runs";
  EXPECT_EQ(shown([&](Chart& c) { auto& a = c.bolus(Agent::heparin, 1, hm(-24 * 60)); a.bolus = false; a.end.reset(); }), 1u) << "nobody knows its end";
  EXPECT_EQ(shown([&](Chart& c) { c.bolus(Agent::heparin, 1, hm(-24 * 60)).status = AdministrationStatus::on_hold; }), 1u);
  EXPECT_EQ(shown([&](Chart& c) { c.bolus(Agent::heparin, 1, hm(-24 * 60)).status = AdministrationStatus::in_progress; }), 1u) << "whatever end it names";
  EXPECT_EQ(shown([&](Chart& c) { c.bolus(Agent::other, 1, hm(13)); }), 0u) << "what acts on no clot is not shown";
  EXPECT_EQ(shown(lab(Analyte::act, 140, hm(14, 0, 1))), 0u) << "a good value from a moment ahead";
  EXPECT_EQ(shown(lab(Analyte::act, 160, hm(14, 5))), 1u) << "a bad one counts five minutes before";
  EXPECT_EQ(shown(lab(Analyte::act, 160, hm(14, 5, 1))), 0u);
  const auto discharged = [](const std::function<void(Chart&)>& change) {
    return [=](Chart& c) {
      Encounter stay;
      stay.source = {"Encounter/e", "1", false};
      stay.start = exactly(hm(8));
      stay.end = exactly(hm(18));
      c.record.encounters.push_back(stay);
      c.event(sheath_removed, hm(15));
      c.event(compression_started, hm(15));
      c.event(haemostasis_confirmed, hm(15, 30));
      change(c);
    };
  };
  EXPECT_EQ(shown(discharged(lab(Analyte::act, 140, hm(18))), hm(20)), 1u);
  EXPECT_EQ(shown(discharged(lab(Analyte::act, 140, hm(18, 0, 1))), hm(20)), 0u) << "after the discharge";
}

TEST(CaseWindow, WhichStayItIs) {
  const auto encounter = [](const std::function<void(Chart&)>& change, Instant now = hm(14)) {
    Chart chart = plain_chart(6);
    for (const auto what : {sheath_removed, compression_started, haemostasis_confirmed}) chart.event(what, hm(12));  // a stay ends no case before it
    change(chart);
    const auto plan = chart.plan(now);
    return plan.encounter + " " + std::string(name_of(plan.state));
  };
  const auto stay = [](const char* id, std::optional<Instant> from, std::optional<Instant> to, bool open = false) {
    return [=](Chart& c) {
      Encounter e;
      e.source = {std::string("Encounter/") + id, "1", false};
      if (from) e.start = exactly(*from);
      if (to) e.end = exactly(*to);
      e.in_progress = open;
      c.record.encounters.push_back(e);
    };
  };
  const auto named = [](Chart& c) { c.index().encounter = "Encounter/n"; };
  EXPECT_EQ(encounter([](Chart&) {}), " resting");
  EXPECT_EQ(encounter(stay("a", hm(12), {})), "Encounter/a resting") << "from the start on";
  EXPECT_EQ(encounter(stay("a", hm(12, 0, 1), {})), " resting");
  EXPECT_EQ(encounter(stay("a", {}, {})), " resting") << "of unknown start";
  EXPECT_EQ(encounter(stay("a", hm(8), hm(12))), "Encounter/a finished") << "it ended at the start";
  EXPECT_EQ(encounter(stay("a", hm(8), hm(11, 59, 59))), " resting");
  EXPECT_EQ(encounter(all(stay("a", hm(8), {}), stay("b", hm(9), {}))), "Encounter/b resting") << "the one that began last";
  EXPECT_EQ(encounter(all(stay("b", hm(9), {}), stay("a", hm(8), {}))), "Encounter/b resting");
  EXPECT_EQ(encounter(all(named, stay("a", hm(8), {}), stay("n", {}, {}))), "Encounter/n resting") << "the one that it names";
  EXPECT_EQ(encounter(all(named, stay("a", hm(8), {}))), "Encounter/n resting") << "and no other";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(14)))), "Encounter/n finished");
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(14, 0, 1)))), "Encounter/n resting") << "not yet";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(13, 30), true))), "Encounter/n resting") << "it goes on";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(13, 30)), stay("ward", hm(13, 30), {}, true))), "Encounter/ward resting") << "moved to another bed";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(13, 30)), stay("ward", {}, {}, true))), "Encounter/ward resting");
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(13, 30)), stay("later", hm(13, 30, 1), {}, true))), "Encounter/n finished") << "back another time";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(11)))), "Encounter/n resting") << "an end from before the case is none";
  EXPECT_EQ(encounter(all(named, stay("n", hm(8), hm(12)))), "Encounter/n finished");
}

TEST(CaseWindow, WhichProceduresAreCases) {
  const auto cases = [](const std::function<void(Chart&)>& change) {
    Chart chart = plain_chart(6);
    change(chart);
    std::string text;
    for (const auto& plan : chart.plans(hm(14))) text += (text.empty() ? "" : " ") + plan.procedure.reference.substr(10) + (plan.provisional ? "?" : "") + ":" + std::to_string(plan.sites.size());
    return text;
  };
  const auto with = [](auto change) { return [=](Chart& c) { change(c.index()); }; };
  EXPECT_EQ(cases([](Chart&) {}), "p1:1");
  EXPECT_EQ(cases(with([](Procedure& p) { p.femoral_denied = true; })), "");
  EXPECT_EQ(cases(with([](Procedure& p) { p.femoral = false; })), "");
  EXPECT_EQ(cases(with([](Procedure& p) { p.catheter = false; })), "");
  EXPECT_EQ(cases(with([](Procedure& p) { p.catheter = p.femoral = false; p.femoral_stated = true; })), "p1:1");
  EXPECT_EQ(cases(with([](Procedure& p) { p.femoral_stated = p.femoral_denied = true; })), "");
  using enum ProcedureStatus;
  EXPECT_EQ(cases(with([](Procedure& p) { p.status = stopped; })), "p1:1");
  for (const auto status : {in_progress, on_hold, ProcedureStatus::unknown}) EXPECT_EQ(cases(with([=](Procedure& p) { p.status = status; })), "p1?:1");
  for (const auto status : {preparation, not_done, entered_in_error}) EXPECT_EQ(cases(with([=](Procedure& p) { p.status = status; })), "");
  const auto part = [](auto change) { return [=](Chart& c) { auto& p = c.procedure("p2", 5, Closure::manual, Side::left); p.part_of = "Procedure/p1"; change(p); }; };
  EXPECT_EQ(cases(part([](Procedure&) {})), "p1:2");
  EXPECT_EQ(cases(part([](Procedure& p) { p.start = exactly(hm(14, 0, 1)); })), "p1:1") << "not yet";
  EXPECT_EQ(cases(part([](Procedure& p) { p.start.reset(); })), "p1:2");
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral_denied = true; })), "p1:1");
  for (const auto status : {preparation, not_done, entered_in_error}) EXPECT_EQ(cases(part([=](Procedure& p) { p.status = status; })), "p1:1");
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral = p.catheter = false; p.sides.clear(); p.vessels.clear(); p.french.clear(); })), "p1:1") << "it names no puncture of its own";
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral = p.catheter = false; p.sides.clear(); p.vessels.clear(); })), "p1:2") << "a size";
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral = p.catheter = false; p.sides.clear(); p.french.clear(); })), "p1:2") << "a vessel";
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral = p.catheter = false; p.vessels.clear(); p.french.clear(); })), "p1:2") << "a side";
  EXPECT_EQ(cases(part([](Procedure& p) { p.femoral = p.catheter = false; p.femoral_stated = true; p.sides.clear(); p.vessels.clear(); p.french.clear(); })), "p1:2") << "stated";
  EXPECT_EQ(cases(part([](Procedure& p) { p.part_of = "Procedure/gone"; })), "p1:1 p2:1");
  EXPECT_EQ(cases(part([](Procedure& p) { p.part_of = "Procedure/p2"; })), "p1:1 p2:1") << "a part of itself is none";
  EXPECT_EQ(cases([](Chart& c) { c.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1"; c.procedure("p3", 5, Closure::manual, Side::left).part_of = "Procedure/p2"; }), "p1:3") << "a part of a part";
  Chart intervention = plain_chart(6);
  auto& p2 = intervention.procedure("p2", 5, Closure::manual, Side::left);
  p2.part_of = "Procedure/p1";
  p2.intervention = Tristate::yes;
  EXPECT_EQ(step(intervention.plan(hm(14)), Step::discharge_check).after_t0, minutes{420});
  EXPECT_EQ(step(intervention.plan(hm(14)), Step::end_compression).planned, minutes{20});
  // A sheath alone opens a provisional case, which keeps its identity when the Procedure is completed.
  const auto alone = [](const std::function<void(Chart&)>& change) {
    Chart chart;
    chart.record.patient.source = {"Patient/a", "1", false};
    chart.event(sheath_inserted, hm(12));
    change(chart);
    std::string text;
    for (const auto& plan : chart.plans(hm(14))) text += plan.procedure.reference + (plan.provisional ? "?" : "") + " " + say(plan.started);
    return text;
  };
  EXPECT_EQ(alone([](Chart&) {}), "Procedure/p1? 12:00");
  EXPECT_EQ(alone([](Chart& c) { c.record.access_events[0].procedure.clear(); }), "Test/1? 12:00");
  EXPECT_EQ(alone([](Chart& c) { c.record.access_events[0].kind = sheath_removed; }), "");
  EXPECT_EQ(alone([](Chart& c) { c.procedure("p1", 6).femoral_denied = true; }), "");
  EXPECT_EQ(alone([](Chart& c) { c.procedure("p1", 6).status = preparation; }), "");
  EXPECT_EQ(alone([](Chart& c) { c.procedure("p1", 6).status = not_done; }), "");
  EXPECT_EQ(alone([](Chart& c) { auto& p = c.procedure("p1", 6); p.catheter = p.femoral = false; }), "Procedure/p1? 12:00");
}

// What counts a little before its own time: only what is bad.
TEST(StampedAheadSays, WhatIsBad) {
  Record record;
  const auto add = [&](Analyte a, double v, Instant at) {
    Measurement m;
    m.analyte = a;
    m.value = amount(v);
    m.at = exactly(at);
    record.measurements.push_back(m);
  };
  add(Analyte::haemoglobin, 14, hm(12));
  add(Analyte::oxygen_saturation, 98, hm(12));
  add(Analyte::systolic, 130, hm(12));
  add(Analyte::creatinine, 1, hm(12));
  add(Analyte::systolic, 151, hm(11));
  for (const auto& [analyte, value] : {std::pair(Analyte::creatinine, 0.2), {Analyte::haemoglobin, 20.0}}) {   // at an unknown time: before nothing
    add(analyte, value, hm(12));
    record.measurements.back().at.reset();
  }
  const Clock clock(hm(14));
  const Ahead ahead(record, cautious(), clock);
  const auto bad = [&](Analyte a, double v, Instant at = hm(14, 2)) {
    Measurement m;
    m.analyte = a;
    m.value = amount(v);
    m.at = exactly(at);
    return ahead.bad(m);
  };
  EXPECT_FALSE(bad(Analyte::act, 149));
  EXPECT_TRUE(bad(Analyte::act, 150));
  EXPECT_FALSE(bad(Analyte::aptt, 44));
  EXPECT_TRUE(bad(Analyte::aptt, 45));
  EXPECT_FALSE(bad(Analyte::inr, 1.5));
  EXPECT_TRUE(bad(Analyte::inr, 1.6));
  EXPECT_FALSE(bad(Analyte::platelets, 100));
  EXPECT_TRUE(bad(Analyte::platelets, 99));
  EXPECT_FALSE(bad(Analyte::fibrinogen, 1.5));
  EXPECT_TRUE(bad(Analyte::fibrinogen, 1.4));
  EXPECT_FALSE(bad(Analyte::haemoglobin, 12.1));
  EXPECT_TRUE(bad(Analyte::haemoglobin, 12)) << "fallen by 2";
  EXPECT_FALSE(bad(Analyte::haemoglobin, 12, hm(12))) << "not fallen since then";
  EXPECT_TRUE(bad(Analyte::haemoglobin, 7.9, hm(11)));
  EXPECT_FALSE(bad(Analyte::creatinine, 1));
  EXPECT_TRUE(bad(Analyte::creatinine, 1.1)) << "risen";
  EXPECT_FALSE(bad(Analyte::creatinine, 1.1, hm(12)));
  EXPECT_FALSE(bad(Analyte::systolic, 149));
  EXPECT_TRUE(bad(Analyte::systolic, 150));
  EXPECT_FALSE(bad(Analyte::systolic, 101));
  EXPECT_TRUE(bad(Analyte::systolic, 100)) << "fallen by 30 from one in the open range; 151 is none";
  EXPECT_FALSE(bad(Analyte::systolic, 90, hm(11, 30)));
  EXPECT_TRUE(bad(Analyte::systolic, 89, hm(11, 30)));
  EXPECT_FALSE(bad(Analyte::diastolic, 99));
  EXPECT_TRUE(bad(Analyte::diastolic, 100));
  EXPECT_FALSE(bad(Analyte::heart_rate, 50));
  EXPECT_FALSE(bad(Analyte::heart_rate, 120));
  EXPECT_TRUE(bad(Analyte::heart_rate, 49));
  EXPECT_TRUE(bad(Analyte::heart_rate, 121));
  EXPECT_FALSE(bad(Analyte::oxygen_saturation, 95));
  EXPECT_TRUE(bad(Analyte::oxygen_saturation, 94)) << "fallen by 4";
  EXPECT_FALSE(bad(Analyte::oxygen_saturation, 92, hm(11)));
  EXPECT_TRUE(bad(Analyte::oxygen_saturation, 91, hm(11)));
  EXPECT_FALSE(bad(Analyte::temperature, 37.9));
  EXPECT_TRUE(bad(Analyte::temperature, 38));
  EXPECT_FALSE(bad(Analyte::weight, 80));
  Measurement nothing;
  nothing.analyte = Analyte::weight;
  nothing.at = exactly(hm(14));
  EXPECT_TRUE(ahead.bad(nothing)) << "no value";

  const auto looks_bad = [&](auto change) {
    SiteCheck c;
    c.at = exactly(hm(14, 2));
    c.bleeding = Bleeding::none;
    c.foot_pulse = FootPulse::as_baseline;
    c.swelling = amount(0, "cm");
    c.growth = false;
    change(c);
    return ahead.bad(c);
  };
  EXPECT_FALSE(looks_bad([](SiteCheck&) {}));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.bleeding = Bleeding::ooze; }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.wet_dressing = true; }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.growth = true; }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.swelling = amount(0.1, "cm"); }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.back_pain = true; }));
  for (const auto member : {&SiteCheck::foot_pulse, &SiteCheck::colour, &SiteCheck::warmth, &SiteCheck::feeling, &SiteCheck::movement}) {
    EXPECT_TRUE(looks_bad([=](SiteCheck& c) { c.*member = FootPulse::weaker; }));
    EXPECT_TRUE(looks_bad([=](SiteCheck& c) { c.*member = FootPulse::absent; }));
    EXPECT_FALSE(looks_bad([=](SiteCheck& c) { c.*member = FootPulse::as_baseline; }));
  }
  for (const auto member : {&SiteCheck::chest_pain, &SiteCheck::neurological_sign, &SiteCheck::mass_or_bruit, &SiteCheck::skin_damage, &SiteCheck::dizziness}) {
    EXPECT_TRUE(looks_bad([=](SiteCheck& c) { c.*member = true; }));
    EXPECT_FALSE(looks_bad([=](SiteCheck& c) { c.*member = false; }));
  }
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.voided = false; }));
  EXPECT_FALSE(looks_bad([](SiteCheck& c) { c.voided = true; }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.pain = amount(7); }));
  EXPECT_FALSE(looks_bad([](SiteCheck& c) { c.pain = amount(6); }));
  EXPECT_TRUE(looks_bad([](SiteCheck& c) { c.bladder = amount(300, "mL"); }));
  EXPECT_FALSE(looks_bad([](SiteCheck& c) { c.bladder = amount(299, "mL"); }));

  Administration dose;
  for (const auto agent : {Agent::protamine, Agent::idarucizumab, Agent::andexanet_alfa, Agent::vitamin_k, Agent::prothrombin_complex, Agent::other}) {
    dose.agent = agent;
    EXPECT_FALSE(ahead.bad(dose)) << name_of(agent);
  }
  for (const auto agent : {Agent::heparin, Agent::aspirin, Agent::alteplase, Agent::unidentified}) {
    dose.agent = agent;
    EXPECT_TRUE(ahead.bad(dose)) << name_of(agent);
  }
  dose.flush = true;
  EXPECT_FALSE(ahead.bad(dose));
}

}  // namespace
}  // namespace clinical
