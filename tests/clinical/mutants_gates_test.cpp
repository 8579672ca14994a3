// Everything that each gate says, in full: state, clocks, how long its value holds, what is asked for, what a decision must quote, the reason with its arguments,
// the rule and the facts. Rules and limits: clinical model, "Sheath removal: gates"; published sources stand beside them in the protocol file.
#include <algorithm>
#include <map>

#include "mutants_gates_support.h"

namespace clinical {
namespace {

void only_check(Bedside& bed, Instant at, const std::function<void(SiteCheck&)>& change) {
  bed.site().checks.clear();
  change(bed.check(at));
}

TEST(GateSays, AllOfThemWhenEachIsOpen) {
  const std::vector<std::string> expected{
      "open since 12:00 | gate.access.open | gate.access",
      "open until 15:15 since 15:00 | gate.site-status.open-flat{at=15:00 bleeding=@found.dry} | gate.site-status.swelling | from 4",
      "open since 12:05 | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 1",
      "open since 12:00 | gate.home-anticoagulants.none | gate.home-anticoagulants | from 2",
      "open until 15:30 since 15:00 seen '140 s' | gate.act.open{value=140 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3",
      "open until +1d 08:00 since 12:00 seen '210' | gate.platelets.open{value=210 drawn=08:00 limit=50 x 10^9/L} | gate.platelets.limit | from 8",
      "open until 15:15 since 15:00 seen '130' | gate.blood-pressure.open{value=130 at=15:00 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 5 6",
      "open until 15:15 since 15:00 seen '70' | gate.heart-rate.open{value=70 at=15:00 limit=120/min} | gate.heart-rate.high-open | from 7",
      "open until +1d 14:00 since 12:00 seen '13.1' | gate.haemoglobin.open{value=13.1 drawn=14:00 limit=8 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.low | from 10 9"};
  std::vector<std::string> found;
  for (const auto& gate : ready().gates(kNow)) found.push_back(say(gate));
  EXPECT_EQ(found, expected);
}

TEST(GateSays, TheSourceOfItsRule) {
  std::map<std::string, std::string> sources;
  each_setting(cautious(), [&](const Setting& s, const char*, SettingUnit) { sources[s.rule.key] = s.rule.source; }, [](const Series&, const char*) {});
  Bedside bed = ready();
  bed.infusion(Agent::eptifibatide, hm(12, 20), {});
  bed.bolus(Agent::enoxaparin, hm(7, 16));
  bed.lab(Analyte::inr, 1.6, hm(10));
  for (const auto& gate : bed.gates(kNow)) EXPECT_EQ(gate.source, sources.contains(gate.rule) ? sources[gate.rule] : "common practice, no source") << gate.rule;
}

TEST(GateSays, Access) {
  const auto unsure = [](Certainty c) {
    return [c](Bedside& b) { b.site().side.certainty = b.site().vessel.certainty = b.site().closure.certainty = c; };
  };
  expect_said({
      {"size not recorded, side contradicted", [](Bedside& b) { b.site().french = {}; b.site().side.certainty = Certainty::contradicted; }, GateName::access, kNow,
       "needs asks sheath-size,side | gate.access.missing{fact=@fact.sheath-size} | gate.access"},
      {"side contradicted", [](Bedside& b) { b.site().side.certainty = Certainty::contradicted; }, GateName::access, kNow,
       "needs asks side | gate.access.contradicted{fact=@fact.side} | gate.access"},
      {"size from text alone", [](Bedside& b) { b.site().french.certainty = Certainty::low; }, GateName::access, kNow,
       "needs asks sheath-size | gate.access.text-only{fact=@fact.sheath-size} | gate.access"},
      {"the others from text", unsure(Certainty::low), GateName::access, kNow, "open since 12:00 | gate.access.open | gate.access"},
      {"the others not recorded", unsure(Certainty::unknown), GateName::access, kNow, "needs asks side,vessel,closure | gate.access.missing{fact=@fact.side} | gate.access"},
      {"graft in this groin", [](Bedside& b) { b.risk(RiskKind::graft).side = Side::right; }, GateName::access, kNow, "ask | gate.access.graft | gate.access | from 14"},
      {"graft, side not recorded", [](Bedside& b) { b.risk(RiskKind::graft); }, GateName::access, kNow, "ask | gate.access.graft-somewhere | gate.access | from 14"},
      {"graft in the other groin", [](Bedside& b) { b.risk(RiskKind::graft).side = Side::left; }, GateName::access, kNow, "open since 12:00 | gate.access.open | gate.access"},
      {"graft until that moment", [](Bedside& b) { b.risk(RiskKind::graft).to = exactly(kNow); }, GateName::access, kNow, "ask | gate.access.graft-somewhere | gate.access | from 14"},
      {"graft until the second before", [](Bedside& b) { b.risk(RiskKind::graft).to = exactly(kNow - seconds{1}); }, GateName::access, kNow, "open since 15:05 | gate.access.open | gate.access"},
      {"graft from a second later on", [](Bedside& b) { b.risk(RiskKind::graft).from = exactly(kNow + seconds{1}); }, GateName::access, kNow, "open since 12:00 | gate.access.open | gate.access"},
      {"graft recorded as absent", [](Bedside& b) { b.risk(RiskKind::graft).present = false; }, GateName::access, kNow, "open since 12:00 | gate.access.open | gate.access"},
      {"who said it", [](Bedside& b) {
         b.site().side.said = {{Side::right, {"Procedure/p1", "1", false}}};
         b.site().vessel.said = {{Vessel::artery, {"Procedure/p1", "1", false}}};
         b.site().french.said = {{6, {"Device/d", "1", false}}};
         b.site().closure.said = {{Closure::manual, {"Procedure/p2", "1", false}}};
       }, GateName::access, kNow, "open since 12:00 | gate.access.open | gate.access | from Procedure/p1 Device/d Procedure/p2"},
  });
}

TEST(GateSays, SiteStatus) {
  using enum GateName;
  const auto newer = [](const std::function<void(SiteCheck&)>& change) { return [=](Bedside& b) { change(b.check(hm(15, 3))); }; };
  const auto only = [](const std::function<void(SiteCheck&)>& change) { return [=](Bedside& b) { only_check(b, hm(15, 3), change); }; };
  expect_said({
      {"no check", [](Bedside& b) { b.site().checks.clear(); }, site_status, kNow, "needs asks site-check | gate.site-status.none | fresh.site-check"},
      {"15 min old", nullptr, site_status, hm(15, 15), "open until 15:15 since 15:00 | gate.site-status.open-flat{at=15:00 bleeding=@found.dry} | gate.site-status.swelling | from 4"},
      {"older", nullptr, site_status, hm(15, 15, 1), "needs asks site-check | gate.site-status.stale{at=15:00} | fresh.site-check | from 4"},
      {"incomplete", only([](SiteCheck& c) { c.growth.reset(); }), site_status, kNow, "needs asks site-check | gate.site-status.incomplete{at=15:03} | fresh.site-check | from 14"},
      {"two incomplete ones: the newer, whichever was received first", [](Bedside& b) { only_check(b, hm(15, 3), [](SiteCheck& c) { c.growth.reset(); }); b.check(hm(15, 1)).growth.reset(); }, site_status, kNow,
       "needs asks site-check | gate.site-status.incomplete{at=15:03} | fresh.site-check | from 14"},
      {"an incomplete one after a good one", newer([](SiteCheck& c) { c.foot_pulse.reset(); }), site_status, kNow,
       "needs asks site-check | gate.site-status.incomplete{at=15:03} | fresh.site-check | from 14"},
      {"an incomplete one that bleeds", newer([](SiteCheck& c) { c.foot_pulse.reset(); c.bleeding = Bleeding::bleeding; }), site_status, kNow,
       "closed until 15:18 | gate.site-status.bleeding{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"ooze", newer([](SiteCheck& c) { c.bleeding = Bleeding::ooze; }), site_status, kNow,
       "open until 15:18 since 15:00 | gate.site-status.open-flat{at=15:03 bleeding=@found.ooze} | gate.site-status.swelling | from 14"},
      {"ooze that grows", newer([](SiteCheck& c) { c.bleeding = Bleeding::ooze; c.growth = true; }), site_status, kNow,
       "closed until 15:18 | gate.site-status.growing{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"swelling 5 cm", newer([](SiteCheck& c) { c.swelling = amount(5, "cm"); }), site_status, kNow,
       "closed until 15:18 | gate.site-status.swelling{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"swelling 4.9 cm", newer([](SiteCheck& c) { c.swelling = amount(4.9, "cm"); }), site_status, kNow,
       "open until 15:18 since 15:00 | gate.site-status.open{at=15:03 swelling=4.9 cm bleeding=@found.dry} | gate.site-status.swelling | from 14"},
      {"pulse absent", newer([](SiteCheck& c) { c.foot_pulse = FootPulse::absent; }), site_status, kNow,
       "closed until 15:18 | gate.site-status.pulse-absent{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"pulse weaker", newer([](SiteCheck& c) { c.foot_pulse = FootPulse::weaker; }), site_status, kNow,
       "closed until 15:18 | gate.site-status.pulse-weaker{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"swelling somewhere under 6 cm", newer([](SiteCheck& c) { c.swelling = compared(Comparator::less, 6, "cm"); }), site_status, kNow,
       "needs asks site-check | gate.site-status.swelling-unsure{at=15:03 limit=5 cm} | gate.site-status.swelling | from 14"},
      {"bled, and nobody looked since", [](Bedside& b) { only_check(b, hm(14, 45), [](SiteCheck& c) { c.bleeding = Bleeding::bleeding; }); }, site_status, hm(15, 0, 1),
       "needs asks site-check | gate.site-status.look-again{at=14:45} | fresh.site-check | from 14"},
      {"bled, then dry: the haemoglobin of 14:00 is too old now", [](Bedside& b) { b.check(hm(14, 58)).bleeding = Bleeding::bleeding; }, site_status, kNow,
       "open until 15:15 | gate.site-status.open-flat{at=15:00 bleeding=@found.dry} | gate.site-status.swelling | from 4"},
      {"bleeding and dry at one instant", [](Bedside& b) { b.check(hm(15)).bleeding = Bleeding::bleeding; }, site_status, kNow,
       "closed until 15:15 | gate.site-status.bleeding{at=15:00 limit=5 cm} | gate.site-status.swelling | from 14"},
  });
}

TEST(GateSays, AnticoagulantHistory) {
  constexpr auto kGate = GateName::anticoagulant_history;
  expect_said({
      {"a drug that nobody knows", [](Bedside& b) { b.bolus(Agent::unidentified, hm(12, 10)); }, kGate, kNow,
       "needs asks drug-identity | gate.anticoagulant-history.unidentified{drug=unidentified} | gate.anticoagulant-history | from 14"},
      {"a dose beside a statement", [](Bedside& b) { b.state(StatementKind::no_anticoagulant_given, hm(13, 30)); }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.contradicted{agent=@agent.heparin stated=13:30} | gate.anticoagulant-history | from 1 14"},
      {"a statement from before the start", [](Bedside& b) { b.state(StatementKind::no_anticoagulant_given, hm(11, 59)); }, kGate, kNow,
       "open since 12:05 | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 1"},
      {"not surely given", [](Bedside& b) { b.facts.administrations[0].status = AdministrationStatus::unknown; }, kGate, kNow,
       "needs asks dose-time | gate.anticoagulant-history.dose-time{agent=@agent.heparin} | gate.anticoagulant-history | from 1"},
      {"without a rule here", [](Bedside& b) { b.bolus(Agent::other_antithrombotic, hm(12, 20)); }, kGate, kNow,
       "ask | gate.anticoagulant-history.no-rule{drug=other antithrombotic} | gate.anticoagulant-history | from 14"},
      {"without a rule here, and no more is told", [](Bedside& b) { without_heparin(b); b.bolus(Agent::other_antithrombotic, hm(12, 20)); }, kGate, kNow,
       "ask asks anticoagulant-history | gate.anticoagulant-history.no-rule-untold{drug=other antithrombotic} | gate.anticoagulant-history | from 14"},
      {"a flush without a rule here", [](Bedside& b) { b.bolus(Agent::other_antithrombotic, hm(12, 20)).flush = true; }, kGate, kNow,
       "open since 12:05 | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 1"},
      {"given as the sheath came out", [](Bedside& b) { without_heparin(b); b.bolus(Agent::heparin, hm(15)); b.site().sheath_out = hm(15); }, kGate, kNow,
       "open | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 14"},
      {"given after it", [](Bedside& b) { without_heparin(b); b.bolus(Agent::heparin, hm(15, 0, 1)); b.site().sheath_out = hm(15); }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"given about that time", [](Bedside& b) { without_heparin(b); auto& a = b.bolus(Agent::heparin, hm(15)); a.start = a.end = Moment{hm(14, 59), hm(15, 0, 1)}; b.site().sheath_out = hm(15); }, kGate, kNow,
       "needs asks dose-time | gate.anticoagulant-history.dose-time{agent=@agent.heparin} | gate.anticoagulant-history | from 14"},
      {"without a rule here, at home", [](Bedside& b) { b.home(Agent::other_antithrombotic, exactly(hm(8))); }, kGate, kNow,
       "ask | gate.anticoagulant-history.no-rule-home{drug=other antithrombotic} | gate.anticoagulant-history | from 14"},
      {"without a rule here, at home, and no more is told", [](Bedside& b) { without_heparin(b); b.home(Agent::other_antithrombotic, exactly(hm(8))); }, kGate, kNow,
       "ask asks anticoagulant-history | gate.anticoagulant-history.no-rule-home-untold{drug=other antithrombotic} | gate.anticoagulant-history | from 14"},
      {"stated that none was given", [](Bedside& b) { without_heparin(b); b.state(StatementKind::no_anticoagulant_given, hm(13, 5)); }, kGate, kNow,
       "open since 13:05 | gate.anticoagulant-history.none-given{stated=13:05} | gate.anticoagulant-history | from 14"},
      {"nothing recorded", without_heparin, kGate, kNow, "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"heparin 6 h before the start", [](Bedside& b) { without_heparin(b); b.bolus(Agent::heparin, hm(6)); }, kGate, kNow,
       "open since 12:00 | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 14"},
      {"heparin earlier than that", [](Bedside& b) { without_heparin(b); b.bolus(Agent::heparin, hm(5, 59, 59)); }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"a tablet in those hours", [](Bedside& b) { without_heparin(b); b.bolus(Agent::apixaban, hm(8)); }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"warfarin given here in those hours", [](Bedside& b) { without_heparin(b); b.bolus(Agent::warfarin, hm(8)); }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"flush alone", [](Bedside& b) { b.facts.administrations[0].flush = true; }, kGate, kNow,
       "needs asks anticoagulant-history | gate.anticoagulant-history.unknown | gate.anticoagulant-history"},
      {"an infusion that ran into those hours", [](Bedside& b) { without_heparin(b); b.infusion(Agent::heparin, hm(2), hm(6)); }, kGate, kNow,
       "open since 12:00 | gate.anticoagulant-history.given{agent=@agent.heparin} | gate.anticoagulant-history | from 14"},
  });
}

TEST(GateSays, HomeAnticoagulants) {
  constexpr auto kGate = GateName::home_anticoagulants;
  const auto bare_home = [](const std::function<void(Bedside&)>& change) { return [=](Bedside& b) { without_list(b); change(b); }; };
  expect_said({
      {"warfarin", bare_home([](Bedside& b) { b.home(Agent::warfarin, exactly(hm(-30))); }), kGate, kNow,
       "open | gate.home-anticoagulants.taken{agent=@agent.warfarin} | gate.home-anticoagulants | from 14"},
      {"stated that there is none", bare_home([](Bedside& b) { b.state(StatementKind::no_home_anticoagulant, hm(13, 10)); }), kGate, kNow,
       "open since 13:10 | gate.home-anticoagulants.none | gate.home-anticoagulants | from 14"},
      {"a list with other drugs", bare_home([](Bedside& b) { b.nil_list(hm(9)).nil_known = false; b.home(Agent::aspirin, exactly(hm(8))); }), kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.list | gate.home-anticoagulants | from 14"},
      {"an empty list that does not say so", bare_home([](Bedside& b) { b.nil_list(hm(9)).nil_known = false; }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"given here before", bare_home([](Bedside& b) { b.bolus(Agent::enoxaparin, hm(2)); }), kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.given-before{agent=@agent.enoxaparin} | gate.home-anticoagulants | from 14"},
      {"given here at the start, not before it", bare_home([](Bedside& b) { b.bolus(Agent::enoxaparin, hm(12)); }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"heparin before is no home drug", bare_home([](Bedside& b) { b.bolus(Agent::heparin, hm(8)); }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"prescribed, no last dose", bare_home([](Bedside& b) { b.home(Agent::apixaban, {}).told_by_request = true; }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.prescribed{agent=@agent.apixaban} | gate.home-anticoagulants | from 14"},
      {"prescribed and last taken", bare_home([](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-80))).told_by_request = true; }), kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.taken{agent=@agent.apixaban} | gate.home-anticoagulants | from 14"},
      {"recorded later than now", bare_home([](Bedside& b) { b.home(Agent::apixaban, {}).recorded = exactly(hm(15, 6)); }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"prescribed, and to be taken later than now", bare_home([](Bedside& b) { b.home(Agent::apixaban, exactly(hm(15, 6))).told_by_request = true; }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"prescribed aspirin", bare_home([](Bedside& b) { b.home(Agent::aspirin, {}).told_by_request = true; }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"prescribed, and not taken", bare_home([](Bedside& b) { b.home(Agent::apixaban, {}).told_by_request = true; b.facts.home_drugs.back().taken = false; }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.unknown | gate.home-anticoagulants"},
      {"warfarin given here before", bare_home([](Bedside& b) { b.bolus(Agent::warfarin, hm(2)); b.lab(Analyte::inr, 1.2, hm(14)); }), kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.given-before{agent=@agent.warfarin} | gate.home-anticoagulants | from 14"},
      {"fondaparinux given here before", bare_home([](Bedside& b) { b.bolus(Agent::fondaparinux, hm(-33)); }), kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.given-before{agent=@agent.fondaparinux} | gate.home-anticoagulants | from 14"},
      {"a drug that nobody knows", [](Bedside& b) { b.home(Agent::unidentified, exactly(hm(8))); }, kGate, kNow,
       "needs asks drug-identity | gate.home-anticoagulants.unidentified{drug=unidentified} | gate.home-anticoagulants | from 14"},
      {"a drug beside an empty list", [](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-80))); }, kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.contradicted{agent=@agent.apixaban} | gate.home-anticoagulants | from 14 2"},
      {"a drug beside a statement", bare_home([](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-80))); b.state(StatementKind::no_home_anticoagulant, hm(13, 10)); }), kGate, kNow,
       "needs asks home-anticoagulants | gate.home-anticoagulants.contradicted{agent=@agent.apixaban} | gate.home-anticoagulants | from 14 15"},
      {"not taken", [](Bedside& b) { b.home(Agent::apixaban, exactly(hm(-80))).taken = false; }, kGate, kNow,
       "open since 12:00 | gate.home-anticoagulants.none | gate.home-anticoagulants | from 2"},
  });
}

TEST(GateSays, Act) {
  constexpr auto kGate = GateName::act;
  const auto instead = [](double value, Instant at) {
    return [=](Bedside& b) { drop(b, {Analyte::act}); b.lab(Analyte::act, amount(value, "s"), at); };
  };
  expect_said({
      {"150 s", [](Bedside& b) { b.lab(Analyte::act, amount(150, "s"), hm(15, 2)); }, kGate, kNow,
       "closed until 15:32 seen '150 s' | gate.act.over-limit{value=150 s drawn=15:02 limit=150 s} | gate.act.limit | from 1 14"},
      {"149 s", [](Bedside& b) { b.lab(Analyte::act, amount(149, "s"), hm(15, 2)); }, kGate, kNow,
       "open until 15:32 since 15:00 seen '149 s' | gate.act.open{value=149 s drawn=15:02 limit=150 s} | gate.act.limit | from 1 14"},
      {"two of one instant, the worse counts", [](Bedside& b) { b.lab(Analyte::act, amount(155, "s"), hm(15)); }, kGate, kNow,
       "closed until 15:30 seen '155 s' | gate.act.over-limit{value=155 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3 14"},
      {"30 min old", nullptr, kGate, hm(15, 30), "open until 15:30 seen '140 s' | gate.act.open{value=140 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3"},
      {"older", nullptr, kGate, hm(15, 30, 1), "needs asks act | gate.act.stale{value=140 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3"},
      {"over, and old", instead(160, hm(14)), kGate, kNow, "needs asks act | gate.act.stale{value=160 s drawn=14:00 limit=150 s} | gate.act.limit | from 1 14"},
      {"none since the dose", [](Bedside& b) { drop(b, {Analyte::act}); }, kGate, kNow, "needs asks act | gate.act.draw{dose=12:05 limit=150 s} | gate.act.limit | from 1"},
      {"in the minute of the dose", instead(140, hm(12, 5, 59)), kGate, hm(12, 6), "needs asks act | gate.act.draw{dose=12:05 limit=150 s} | gate.act.limit | from 1"},
      {"in the minute after it", instead(140, hm(12, 6)), kGate, hm(12, 6),
       "needs clock 12:10 asks act | gate.act.after-bolus{drawn=12:06 after=5min dose=12:05 from=12:10} | gate.act.limit | from 1 14"},
      {"5 min after it", instead(140, hm(12, 10)), kGate, hm(12, 10),
       "open until 12:40 seen '140 s' | gate.act.open{value=140 s drawn=12:10 limit=150 s} | gate.act.limit | from 1 14"},
      {"none since argatroban", [](Bedside& b) { drop(b, {Analyte::act}); b.infusion(Agent::argatroban, hm(13), hm(13, 30)); }, kGate, kNow,
       "needs asks act | gate.act.draw-act{dose=13:30 limit=150 s} | gate.act.limit | from 1 14"},
      {"no result", [](Bedside& b) { b.no_value(Analyte::act, hm(15, 2)); }, kGate, kNow, "needs asks act | gate.act.no-value{drawn=15:02} | gate.act.limit | from 1 14"},
      {"somewhere under 160", [](Bedside& b) { b.lab(Analyte::act, compared(Comparator::less, 160, "s"), hm(15, 2)); }, kGate, kNow,
       "needs asks act | gate.act.unsure{value=<160 s limit=150 s} | gate.act.limit | from 1 14"},
      {"before protamine can have acted", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 55)); }, kGate, hm(15, 3),
       "needs clock 15:05 asks act | gate.act.after-protamine{from=15:05} | gate.act.limit | from 1 3"},
      {"and once it has", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 55)); }, kGate, kNow,
       "needs asks act | gate.act.after-protamine{from=15:05} | gate.act.limit | from 1 3"},
      {"ten minutes after protamine", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 55)); b.lab(Analyte::act, amount(140, "s"), hm(15, 5)); }, kGate, hm(15, 6),
       "open until 15:35 since 15:05 seen '140 s' | gate.act.open-repeat{value=140 s drawn=15:05 limit=150 s repeat=15:55} | gate.act.limit | from 1 15"},
      {"an hour after protamine the repeat is asked for", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 55)); b.lab(Analyte::act, amount(140, "s"), hm(15, 50)); }, kGate, hm(15, 55),
       "open until 16:20 asks act seen '140 s' | gate.act.open-repeat{value=140 s drawn=15:50 limit=150 s repeat=15:55} | gate.act.limit | from 1 15"},
      {"and done", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 55)); b.lab(Analyte::act, amount(140, "s"), hm(15, 55)); }, kGate, hm(15, 56),
       "open until 16:25 seen '140 s' | gate.act.open{value=140 s drawn=15:55 limit=150 s} | gate.act.limit | from 1 15"},
      {"protamine runs", [](Bedside& b) { b.infusion(Agent::protamine, hm(14, 30), {}); }, kGate, kNow, "needs asks act | gate.act.protamine-unknown | gate.act.limit | from 1 3"},
      {"nothing recorded after an intervention", without_heparin, kGate, kNow, "needs asks anticoagulant-history,act | gate.act.history-unknown | gate.act.limit"},
      {"nothing recorded, no intervention", [](Bedside& b) { without_heparin(b); b.facts.intervention = Tristate::no; }, kGate, kNow, "absent"},
      {"nothing recorded, intervention unknown", [](Bedside& b) { without_heparin(b); b.facts.intervention = Tristate::unknown; }, kGate, kNow,
       "needs asks anticoagulant-history,act | gate.act.history-unknown | gate.act.limit"},
      {"aPTT instead", [](Bedside& b) { drop(b, {Analyte::act}); b.lab(Analyte::aptt, amount(44, "s"), hm(15, 1)); }, kGate, kNow,
       "open until 16:01 since 15:01 seen '44 s' | gate.act.open-by-aptt{value=44 s drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"both, the aPTT holds longer", [](Bedside& b) { b.lab(Analyte::aptt, amount(44, "s"), hm(15, 1)); }, kGate, kNow,
       "open until 16:01 since 15:00 seen '44 s' | gate.act.open-by-aptt{value=44 s drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"both as long", [](Bedside& b) { b.lab(Analyte::aptt, amount(44, "s"), hm(14, 30)); }, kGate, kNow,
       "open until 15:30 since 14:30 seen '140 s' | gate.act.open{value=140 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3"},
      {"an aPTT does not stand in after argatroban", [](Bedside& b) { drop(b, {Analyte::act}); b.infusion(Agent::argatroban, hm(12, 30), hm(13)); b.lab(Analyte::aptt, amount(44, "s"), hm(15, 1)); }, kGate, kNow,
       "needs asks act | gate.act.draw-act{dose=13:00 limit=150 s} | gate.act.limit | from 1 14"},
      {"a fresh ACT over outweighs an aPTT", [](Bedside& b) { b.lab(Analyte::act, amount(150, "s"), hm(15, 2)); b.lab(Analyte::aptt, amount(44, "s"), hm(15, 3)); }, kGate, kNow,
       "closed until 15:32 seen '150 s' | gate.act.over-limit{value=150 s drawn=15:02 limit=150 s} | gate.act.limit | from 1 14"},
      {"heparin runs", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), {}); }, kGate, kNow, "closed | gate.drug.running{agent=@agent.heparin} | gate.act.limit | from 14"},
      {"heparin on hold", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), hm(14, 30)).status = AdministrationStatus::on_hold; }, kGate, kNow,
       "closed | gate.drug.running{agent=@agent.heparin} | gate.act.limit | from 14"},
      {"stopped, nobody knows when", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), {}).status = AdministrationStatus::completed; }, kGate, kNow,
       "needs asks stop-time | gate.drug.stop-unknown{agent=@agent.heparin} | gate.act.limit | from 14"},
      {"given, nobody knows when", [](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(14)); a.start.reset(); a.end.reset(); }, kGate, kNow,
       "needs asks dose-time | gate.drug.time-unknown{agent=@agent.heparin} | gate.act.limit | from 14"},
      {"analyser not recorded", [](Bedside& b) { b.facts.measurements[0].analyser.clear(); }, kGate, kNow,
       "open until 15:30 since 15:00 asks analyser seen '140 s' | gate.act.open{value=140 s drawn=15:00 limit=150 s} | gate.act.limit | from 1 3"},
      {"a value over beside the clock", [](Bedside& b) { drop(b, {Analyte::act}); b.state(StatementKind::coagulation_test_unavailable, hm(14)); b.lab(Analyte::act, amount(260, "s"), hm(13)); }, kGate, kNow,
       "closed asks act | gate.act.over-limit{value=260 s drawn=13:00 limit=150 s} | gate.act.limit | from 15"},
      {"no clock where argatroban demands a value", [](Bedside& b) { drop(b, {Analyte::act}); b.state(StatementKind::coagulation_test_unavailable, hm(14)); b.infusion(Agent::argatroban, hm(12, 30), hm(13)); }, kGate, kNow,
       "needs asks act | gate.act.draw-act{dose=13:00 limit=150 s} | gate.act.limit | from 1 15"},
      {"nothing beside the clock", [](Bedside& b) { drop(b, {Analyte::act}); b.state(StatementKind::coagulation_test_unavailable, hm(14)); }, kGate, kNow, "absent"},
  });
}

TEST(GateSays, Aptt) {
  constexpr auto kGate = GateName::aptt;
  const auto with = [](double value, Instant at) { return [=](Bedside& b) { b.lab(Analyte::aptt, amount(value, "s"), at); }; };
  const auto alone = [](const std::function<void(Bedside&)>& change) { return [=](Bedside& b) { drop(b, {Analyte::act}); change(b); }; };
  expect_said({
      {"44 s", with(44, hm(15, 1)), kGate, kNow, "open until 16:01 since 15:01 seen '44 s' | gate.aptt.open{value=44 s drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"45 s", with(45, hm(15, 1)), kGate, kNow, "closed until 16:01 seen '45 s' | gate.aptt.over-limit{value=45 s drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"45 s, old", with(45, hm(14, 4, 59)), kGate, kNow, "closed asks aptt seen '45 s' | gate.aptt.over-limit{value=45 s drawn=14:04:59 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"old, no ACT", alone(with(40, hm(14, 4, 59))), kGate, kNow, "needs asks aptt seen '40 s' | gate.aptt.draw{value=40 s drawn=14:04:59 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"old, and an open ACT", with(40, hm(14, 4, 59)), kGate, kNow, "absent"},
      {"no result", alone([](Bedside& b) { b.no_value(Analyte::aptt, hm(15, 1)); }), kGate, kNow,
       "needs asks aptt | gate.aptt.no-value{drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"somewhere under 50, and an open ACT", [](Bedside& b) { b.lab(Analyte::aptt, compared(Comparator::less, 50, "s"), hm(15, 1)); }, kGate, kNow,
       "needs asks aptt seen '<50 s' | gate.aptt.unsure{value=<50 s drawn=15:01 limit=45 s} | gate.aptt.limit | from 1 14"},
      {"in the minute of the dose", with(90, hm(12, 5)), kGate, kNow, "absent"},
      {"no heparin", [](Bedside& b) { without_heparin(b); b.lab(Analyte::aptt, amount(90, "s"), hm(15, 1)); }, kGate, kNow, "absent"},
      {"beside the clock", alone([](Bedside& b) { b.state(StatementKind::coagulation_test_unavailable, hm(14)); b.lab(Analyte::aptt, amount(90, "s"), hm(13)); }), kGate, kNow,
       "closed asks aptt seen '90 s' | gate.aptt.over-limit{value=90 s drawn=13:00 limit=45 s} | gate.aptt.limit | from 15"},
      {"under its limit beside the clock", alone([](Bedside& b) { b.state(StatementKind::coagulation_test_unavailable, hm(14)); b.lab(Analyte::aptt, amount(44, "s"), hm(13)); }), kGate, kNow, "absent"},
  });
}

TEST(GateSays, HeparinClock) {
  constexpr auto kGate = GateName::heparin_clock;
  const auto clocked = [](const std::function<void(Bedside&)>& change) {
    return [=](Bedside& b) {
      drop(b, {Analyte::act});
      b.state(StatementKind::coagulation_test_unavailable, hm(14));
      if (change) change(b);
    };
  };
  // 12:05 + 6 h = 18:05.
  expect_said({
      {"waiting", clocked(nullptr), kGate, kNow, "closed opens 18:05 | gate.drug.waiting{agent=@agent.heparin last=12:05 hold=6h opens=18:05} | gate.heparin-clock.hold | from 1 14"},
      {"run out", clocked(nullptr), kGate, hm(18, 5), "open | gate.drug.run-out{agent=@agent.heparin last=12:05 hold=6h opened=18:05} | gate.heparin-clock.hold | from 1 14"},
      {"an ACT over since the dose", clocked([](Bedside& b) { b.lab(Analyte::act, amount(150, "s"), hm(13)); }), kGate, hm(19),
       "closed | gate.heparin-clock.overridden{test=@gate.act value=150 s drawn=13:00} | gate.act.limit | from 15"},
      {"an aPTT over since the dose", clocked([](Bedside& b) { b.lab(Analyte::aptt, amount(45, "s"), hm(13)); }), kGate, hm(19),
       "closed | gate.heparin-clock.overridden{test=@gate.aptt value=45 s drawn=13:00} | gate.aptt.limit | from 15"},
      {"an ACT over from before the dose", clocked([](Bedside& b) { b.lab(Analyte::act, amount(150, "s"), hm(12, 4)); }), kGate, hm(18, 5),
       "open | gate.drug.run-out{agent=@agent.heparin last=12:05 hold=6h opened=18:05} | gate.heparin-clock.hold | from 1 14"},
      {"time of the dose not exact", clocked([](Bedside& b) { b.facts.administrations[0].start = b.facts.administrations[0].end = Moment{hm(12), hm(12, 10)}; }), kGate, kNow,
       "needs clock 18:10 asks dose-time | gate.drug.time-inexact{agent=@agent.heparin until=18:10} | gate.heparin-clock.hold | from 1 14"},
      {"stop of the infusion not exact", clocked([](Bedside& b) { b.infusion(Agent::heparin, hm(13), hm(13, 30)).end = Moment{hm(13, 20), hm(13, 30)}; }), kGate, kNow,
       "needs clock 19:30 asks stop-time | gate.drug.time-inexact{agent=@agent.heparin until=19:30} | gate.heparin-clock.hold | from 1 15 14"},
      {"stated twice, a test between", clocked([](Bedside& b) { b.state(StatementKind::coagulation_test_unavailable, hm(13)); b.lab(Analyte::act, amount(140, "s"), hm(13, 30)); }), kGate, kNow,
       "closed opens 18:05 | gate.drug.waiting{agent=@agent.heparin last=12:05 hold=6h opens=18:05} | gate.heparin-clock.hold | from 1 14"},
      {"two doses until one instant, one of them not exact", clocked([](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(12, 5)); a.start = a.end = Moment{hm(12), hm(12, 5)}; }), kGate, kNow,
       "needs clock 18:05 asks dose-time | gate.drug.time-inexact{agent=@agent.heparin until=18:05} | gate.heparin-clock.hold | from 1 15 14"},
      {"a test has been made since the statement", clocked([](Bedside& b) { b.lab(Analyte::act, amount(140, "s"), hm(14, 0, 1)); }), kGate, kNow, "absent"},
      {"a test of the time of the statement", clocked([](Bedside& b) { b.lab(Analyte::act, amount(140, "s"), hm(14)); }), kGate, kNow,
       "closed opens 18:05 | gate.drug.waiting{agent=@agent.heparin last=12:05 hold=6h opens=18:05} | gate.heparin-clock.hold | from 1 14"},
  });
}

}  // namespace
}  // namespace clinical
