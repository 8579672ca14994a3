// Alerts from what nurses find beside pressure, pulse and groin; cautions; alerts that nobody took up.
#include <algorithm>

#include "clinical/alerts.h"
#include "clinical/change.h"
#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart dry_at_1532() {
  Chart chart = intervention_chart(6);
  pull_at(chart, hm(15, 12));
  chart.event(haemostasis_confirmed, hm(15, 32));
  return chart;
}
const Alert* alert(const CasePlan& plan, std::string_view trigger) {
  for (const auto& a : plan.alerts)
    if (a.trigger == trigger) return &a;
  return nullptr;
}

struct FindingRow {
  const char* name;
  std::function<void(Chart&)> found;
  const char* trigger;
  std::optional<AlertLevel> level;
};
// Saturation 92 %, fall 4; pain 7; bladder 300 and 500 mL, 6 and 8 h: common practice or secondary copies. 38 C: discharge advice. 20 and 10 mmHg on
// standing: consensus definition, from memory. Platelets halved after heparin: 4Ts score, from memory.
TEST(FindingAlerts, LevelsByFinding) {
  using enum AlertLevel;
  const auto check = [](auto change) { return [=](Chart& c) { change(c.check(hm(15, 58))); }; };
  const auto lab = [](Analyte a, double v) { return [=](Chart& c) { c.lab(a, v, hm(15, 58)); }; };
  const FindingRow rows[] = {
      {"chest pain", check([](SiteCheck& c) { c.chest_pain = true; }), "chest-pain", emergency},
      {"no chest pain", check([](SiteCheck& c) { c.chest_pain = false; }), "chest-pain", std::nullopt},
      {"sign of a stroke", check([](SiteCheck& c) { c.neurological_sign = true; }), "neurological-sign", emergency},
      {"bruit", check([](SiteCheck& c) { c.mass_or_bruit = true; }), "mass-or-bruit", urgent},
      {"blister", check([](SiteCheck& c) { c.skin_damage = true; }), "skin-under-device", urgent},
      {"pain 7", check([](SiteCheck& c) { c.pain = amount(7); }), "pain", urgent},
      {"pain 6", check([](SiteCheck& c) { c.pain = amount(6); }), "pain", std::nullopt},
      {"foot pale", check([](SiteCheck& c) { c.colour = FootPulse::weaker; }), "limb-ischaemia", emergency},
      {"foot cold", check([](SiteCheck& c) { c.warmth = FootPulse::absent; }), "limb-ischaemia", emergency},
      {"foot without feeling", check([](SiteCheck& c) { c.feeling = FootPulse::absent; }), "limb-ischaemia", emergency},
      {"thigh numb", check([](SiteCheck& c) { c.feeling = FootPulse::weaker; }), "limb-weakness", urgent},
      {"leg weak", check([](SiteCheck& c) { c.movement = FootPulse::weaker; }), "limb-weakness", urgent},
      {"leg as before", check([](SiteCheck& c) { c.movement = c.feeling = c.colour = FootPulse::as_baseline; }), "limb-weakness", std::nullopt},
      {"wet dressing", check([](SiteCheck& c) { c.wet_dressing = true; }), "rebleed-question", tell},
      {"saturation 91 %", lab(Analyte::oxygen_saturation, 91), "oxygen-saturation", urgent},
      {"saturation 92 %", lab(Analyte::oxygen_saturation, 92), "oxygen-saturation", std::nullopt},
      {"saturation fallen from 98 to 94 %", [](Chart& c) { c.lab(Analyte::oxygen_saturation, 98, hm(15)); c.lab(Analyte::oxygen_saturation, 94, hm(16)); }, "oxygen-saturation", urgent},
      {"38.0 C", lab(Analyte::temperature, 38), "temperature", tell},
      {"37.9 C", lab(Analyte::temperature, 37.9), "temperature", std::nullopt},
      {"bladder 299 mL", check([](SiteCheck& c) { c.bladder = amount(299, "mL"); }), "urine", std::nullopt},
      {"bladder 300 mL", check([](SiteCheck& c) { c.bladder = amount(300, "mL"); }), "urine", tell},
      {"bladder 500 mL", check([](SiteCheck& c) { c.bladder = amount(500, "mL"); }), "urine", urgent},
      {"dizzy", check([](SiteCheck& c) { c.dizziness = true; }), "orthostatic", tell},
      {"pressure falls by 20 on sitting up", [](Chart& c) { c.pressure(128, hm(15, 50)); c.done(Step::sit_up, hm(15, 52)); c.pressure(108, hm(15, 55)); }, "orthostatic", tell},
      {"pressure falls by 19 on sitting up", [](Chart& c) { c.pressure(128, hm(15, 50)); c.done(Step::sit_up, hm(15, 52)); c.pressure(109, hm(15, 55)); }, "orthostatic", std::nullopt},
      {"platelets halved after heparin", lab(Analyte::platelets, 110), "platelet-fall", urgent},
      {"platelets 111 of 220", lab(Analyte::platelets, 111), "platelet-fall", std::nullopt},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = dry_at_1532();
    row.found(chart);
    const auto plan = chart.plan(hm(16, 1));
    const auto* found = alert(plan, row.trigger);
    EXPECT_EQ(found != nullptr, row.level.has_value());
    if (found && row.level) {
      EXPECT_EQ(found->level, *row.level);
    }
  }
}

TEST(FindingAlerts, LevelsLieWithinWhatTheTableSays) {
  for (const auto& trigger : kAlertTriggers) EXPECT_LE(trigger.lowest, trigger.highest) << trigger.name;
}

TEST(FindingAlerts, NoUrineIsToldAfterSixHoursAndUrgentAfterEight) {
  auto chart = dry_at_1532();
  EXPECT_FALSE(alert(chart.plan(hm(22)), "urine")) << "what nobody recorded raises nothing";
  chart.check(hm(18)).voided = false;
  EXPECT_FALSE(alert(chart.plan(hm(18, 59)), "urine"));
  ASSERT_TRUE(alert(chart.plan(hm(19)), "urine"));
  EXPECT_EQ(alert(chart.plan(hm(19)), "urine")->level, AlertLevel::tell);
  EXPECT_EQ(alert(chart.plan(hm(21)), "urine")->level, AlertLevel::urgent);
  chart.check(hm(21, 10)).voided = true;
  EXPECT_FALSE(alert(chart.plan(hm(21, 11)), "urine"));
}

// Heparin-induced thrombocytopenia: all heparin is avoided, flushes and coated lines too (from memory).
TEST(Thrombocytopenia, HeparinBesideItIsUrgentAlsoAsAFlush) {
  auto chart = plain_chart(6);
  chart.risk(RiskKind::heparin_induced_thrombocytopenia);
  auto plan = chart.plan(hm(14));
  EXPECT_FALSE(alert(plan, "heparin-despite-hit"));
  EXPECT_TRUE(std::ranges::any_of(plan.cautions, [](const Reason& r) { return r.code == "caution.hit"; }));
  chart.bolus(Agent::heparin, 500, hm(12, 40)).flush = true;
  plan = chart.plan(hm(14));
  ASSERT_TRUE(alert(plan, "heparin-despite-hit"));
  EXPECT_EQ(alert(plan, "heparin-despite-hit")->level, AlertLevel::urgent);
  EXPECT_FALSE(alert(chart.plan(hm(18, 40)), "heparin-despite-hit")) << "six hours later";
}

struct CautionRow {
  const char* name;
  std::function<void(Chart&)> change;
  const char* code;
};
TEST(Cautions, SayWhatToKeepInMind) {
  const CautionRow rows[] = {
      {"two heparins", [](Chart& c) { c.bolus(Agent::enoxaparin, 40, hm(8)); }, "caution.two-heparins"},
      {"GP inhibitor", [](Chart& c) { c.bolus(Agent::tirofiban, 0, hm(12, 20)); }, "caution.gp-inhibitor"},
      {"fibrinolytic", [](Chart& c) { c.bolus(Agent::alteplase, 0, hm(12, 20)); }, "caution.fibrinolytic"},
      {"protamine", [](Chart& c) { c.bolus(Agent::protamine, 0, hm(13)); }, "caution.rebound"},
      {"concentrate without vitamin K", [](Chart& c) { c.bolus(Agent::prothrombin_complex, 0, hm(11)); }, "caution.rebound"},
      {"andexanet", [](Chart& c) { c.bolus(Agent::andexanet_alfa, 0, hm(11)); }, "caution.anti-xa-invalid"},
      {"high stick", [](Chart& c) { c.index().high_stick = true; }, "caution.retroperitoneal"},
      {"a woman", [](Chart& c) { c.record.patient.sex = Sex::female; }, "caution.retroperitoneal"},
      {"antegrade", [](Chart& c) { c.index().direction = Direction::antegrade; }, "caution.antegrade"},
      {"arterial disease", [](Chart& c) { c.risk(RiskKind::arterial_disease); }, "caution.arterial-disease"},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = intervention_chart(6);
    EXPECT_TRUE(chart.plan(hm(14)).cautions.empty());
    row.change(chart);
    const auto plan = chart.plan(hm(14));
    EXPECT_TRUE(std::ranges::any_of(plan.cautions, [&](const Reason& r) { return r.code == row.code; }));
  }
  auto reversed = intervention_chart(6);
  reversed.bolus(Agent::prothrombin_complex, 0, hm(11));
  reversed.bolus(Agent::vitamin_k, 0, hm(11));
  EXPECT_TRUE(reversed.plan(hm(14)).cautions.empty()) << "with vitamin K the effect lasts";
}

TEST(Antegrade, TheOperatorShowsWhereToPress) {
  auto chart = intervention_chart(6);
  chart.index().direction = Direction::antegrade;
  pull_at(chart, hm(15));
  const auto plan = chart.plan(hm(15, 1));
  EXPECT_EQ(plan.sites.front().direction, Direction::antegrade);
  ASSERT_TRUE(step(plan, Step::firm_compression).why);
  EXPECT_EQ(step(plan, Step::firm_compression).why->code, "hold.antegrade");
}

// Fifteen minutes without anybody taking it up: this protocol's own choice.
TEST(RaisedAgain, EveryQuarterOfAnHourUntilSomebodyTakesItUp) {
  auto chart = dry_at_1532();
  chart.check(hm(15, 45)).foot_pulse = FootPulse::weaker;
  EXPECT_FALSE(alert(chart.plan(hm(15, 59, 59)), "foot-pulse-weaker")->raised_again);
  EXPECT_LE(*chart.plan(hm(15, 59)).next_change, hm(16));
  EXPECT_EQ(alert(chart.plan(hm(16)), "foot-pulse-weaker")->raised_again, hm(16));
  EXPECT_EQ(alert(chart.plan(hm(16, 29)), "foot-pulse-weaker")->raised_again, hm(16, 15));

  const auto at = [&](Instant now) { return wanted(chart.plan(now), cautious(), {}); };
  const auto is_call = [](const ItemKey& key) { return key.step == Step::call_clinician && key.cause.starts_with("foot-pulse-weaker"); };
  const auto changes = [&](Instant now, const std::vector<Standing>& standing) {
    const auto all = difference(at(now), standing, now).changes;
    return std::ranges::count_if(all, [&](const Change& c) { return is_call(c.key); });
  };
  auto standing = applied(difference(at(hm(15, 46)), {}, hm(15, 46)), {});
  EXPECT_EQ(changes(hm(15, 59), standing), 0);
  EXPECT_EQ(changes(hm(16), standing), 1) << "written anew";
  for (auto& one : standing)
    if (is_call(one.key)) one.state = Stands::claimed;
  EXPECT_EQ(changes(hm(16), standing), 0) << "somebody has it";
}

}  // namespace
}  // namespace clinical
