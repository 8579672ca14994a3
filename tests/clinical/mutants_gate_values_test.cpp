// Everything that the gates of drugs, blood and the bedside say, in full: state, clocks, how long its value holds, what is asked for, what a decision must quote, the reason with its arguments,
// the rule and the facts. Rules and limits: clinical model, "Sheath removal: gates"; published sources stand beside them in the protocol file.
#include "mutants_gates_support.h"

namespace clinical {
namespace {

TEST(GateSays, GpInhibitor) {
  constexpr auto kGate = GateName::gp_inhibitor;
  const auto given = [](double platelets, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) {
      b.infusion(Agent::eptifibatide, hm(12, 20), {});
      b.lab(Analyte::platelets, platelets, hm(14, 30));
      if (change) change(b);
    };
  };
  // 12:05 + 4 h = 16:05.
  expect_said({
      {"heparin too lately", given(200), kGate, kNow, "closed opens 16:05 | gate.drug.waiting{agent=@agent.heparin last=12:05 hold=4h opens=16:05} | gate.gp-inhibitor.heparin-off | from 1"},
      {"4 h since heparin", given(100), kGate, hm(16, 5), "open | gate.drug.run-out{agent=@agent.heparin last=12:05 hold=4h opened=16:05} | gate.gp-inhibitor.heparin-off | from 1"},
      {"platelets under 100", given(99), kGate, hm(16, 5),
       "ask seen '99' | gate.gp-inhibitor.platelets{agent=@agent.eptifibatide value=99 drawn=14:30 limit=100 x 10^9/L} | gate.gp-inhibitor.platelets-ask-below | from 15 14"},
      {"no heparin, and that is told", given(200, [](Bedside& b) { b.facts.administrations.erase(b.facts.administrations.begin()); b.state(StatementKind::no_anticoagulant_given, hm(13, 5)); }), kGate, kNow,
       "open since 13:05 | gate.gp-inhibitor.no-heparin | gate.gp-inhibitor.heparin-off | from 14"},
      {"no heparin recorded", given(200, [](Bedside& b) { b.facts.administrations.erase(b.facts.administrations.begin()); }), kGate, kNow,
       "needs asks anticoagulant-history | gate.gp-inhibitor.heparin-unknown{agent=@agent.eptifibatide} | gate.gp-inhibitor.heparin-off | from 14"},
  });
}

TEST(GateSays, LowMolecularWeightHeparin) {
  constexpr auto kGate = GateName::low_molecular_weight_heparin;
  const auto given = [](Instant at, Route route, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) { b.bolus(Agent::enoxaparin, at).route = route; if (change) change(b); };
  };
  const auto creatinine = [](double value) { return [=](Bedside& b) { drop(b, {Analyte::creatinine}); b.lab(Analyte::creatinine, value, hm(8)); }; };
  // 07:16 + 8 h = 15:16; 09:05 + 6 h = 15:05. Creatinine 08:00 + 72 h = day 3, 08:00. 80.2 / 3.0 = 26.7 mL/min.
  expect_said({
      {"route not recorded", given(hm(7, 16), Route::unknown), kGate, kNow,
       "closed opens 15:16 | gate.drug.waiting{agent=@agent.enoxaparin last=07:16 hold=8h opens=15:16} | gate.low-molecular-weight-heparin.subcutaneous | from 14 Patient/invented 11 12 13"},
      {"intravenous, run out", given(hm(9, 5), Route::intravenous), kGate, kNow,
       "open until +3d 08:00 since 15:05 | gate.drug.run-out-kidneys{agent=@agent.enoxaparin last=09:05 hold=6h opened=15:05 clearance=80.2 mL/min row=> 30} | gate.low-molecular-weight-heparin.intravenous | from 14 Patient/invented 11 12 13"},
      {"weak kidneys", given(hm(7, 16), Route::unknown, creatinine(3)), kGate, kNow,
       "ask clock 15:16 | gate.low-molecular-weight-heparin.kidneys{agent=@agent.enoxaparin last=07:16} | gate.low-molecular-weight-heparin.clearance | from 14 Patient/invented 15 12 13"},
      {"kidneys not known", given(hm(7, 16), Route::unknown, [](Bedside& b) { drop(b, {Analyte::creatinine}); }), kGate, hm(15, 16),
       "ask asks creatinine | gate.low-molecular-weight-heparin.clearance-unknown{agent=@agent.enoxaparin last=07:16} | gate.low-molecular-weight-heparin.clearance | from 14"},
      {"dialysis", given(hm(7, 16), Route::unknown, [](Bedside& b) { b.risk(RiskKind::dialysis); }), kGate, kNow,
       "ask clock 15:16 | gate.low-molecular-weight-heparin.kidneys{agent=@agent.enoxaparin last=07:16} | gate.low-molecular-weight-heparin.clearance | from 14"},
      {"time of the dose not exact", given(hm(7, 16), Route::unknown, [&](Bedside& b) {
         creatinine(3)(b);
         b.facts.administrations.back().start = b.facts.administrations.back().end = Moment{hm(7), hm(7, 30)};
       }), kGate, kNow,
       "ask clock 15:30 asks dose-time | gate.low-molecular-weight-heparin.kidneys{agent=@agent.enoxaparin last=[07:00..07:30]} | gate.low-molecular-weight-heparin.clearance | from 14 Patient/invented 15 12 13"},
      {"running", [](Bedside& b) { b.infusion(Agent::enoxaparin, hm(14), {}); drop(b, {Analyte::creatinine}); }, kGate, kNow,
       "closed asks creatinine | gate.drug.running{agent=@agent.enoxaparin} | gate.low-molecular-weight-heparin.clearance | from 14"},
  });
}

TEST(GateSays, FondaparinuxAndTablets) {
  const auto creatinine = [](double value) { return [=](Bedside& b) { drop(b, {Analyte::creatinine}); b.lab(Analyte::creatinine, value, hm(8)); }; };
  const auto fondaparinux = [](Instant at, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) { b.bolus(Agent::fondaparinux, at); if (change) change(b); };
  };
  const auto tablet = [](Agent agent, Instant at, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) { without_list(b); b.home(agent, exactly(at)); if (change) change(b); };
  };
  const auto oral = GateName::direct_oral_anticoagulant;
  // 1 March 15:00 + 48 h = 3 March 15:00, + 120 h = 6 March 15:00; 28 February 15:00 + 48 h = 2 March 15:00, + 72 h = 3 March, + 96 h = 4 March, + 120 h = 5 March.
  // Clearance 80.2; with creatinine 1.1 72.9, 2.0 40.1, 3.0 26.7 mL/min.
  expect_said({
      {"fondaparinux inside its hold", fondaparinux(hm(-9)), GateName::fondaparinux, kNow,
       "ask clock +1d 15:00 | gate.drug.ask-until{agent=@agent.fondaparinux last=-1d 15:00 hold=48h opens=+1d 15:00} | gate.fondaparinux.hold | from 14 Patient/invented 11 12 13"},
      {"longer with weak kidneys", fondaparinux(hm(-9), creatinine(2)), GateName::fondaparinux, kNow,
       "ask clock +4d 15:00 | gate.drug.ask-until{agent=@agent.fondaparinux last=-1d 15:00 hold=120h opens=+4d 15:00} | gate.fondaparinux.hold-impaired | from 14 Patient/invented 15 12 13"},
      {"run out", fondaparinux(hm(-33)), GateName::fondaparinux, kNow,
       "open until +3d 08:00 since 15:00 | gate.drug.run-out-kidneys{agent=@agent.fondaparinux last=-2d 15:00 hold=48h opened=15:00 clearance=80.2 mL/min row=> 50} | gate.fondaparinux.hold | from 14 Patient/invented 11 12 13"},
      {"run out whatever the kidneys do", fondaparinux(hm(-105)), GateName::fondaparinux, kNow,
       "open since 12:00 | gate.drug.run-out-kidneys{agent=@agent.fondaparinux last=-5d 15:00 hold=48h opened=-3d 15:00 clearance=80.2 mL/min row=> 50} | gate.fondaparinux.hold | from 14 Patient/invented 11 12 13"},
      {"no clock in dialysis", fondaparinux(hm(-9), [](Bedside& b) { b.risk(RiskKind::dialysis); }), GateName::fondaparinux, kNow,
       "ask clock +4d 15:00 | gate.drug.no-clock-alone{agent=@agent.fondaparinux last=-1d 15:00} | gate.fondaparinux.hold-impaired | from 14"},
      {"no clock while creatinine rises", fondaparinux(hm(-9), [](Bedside& b) { b.lab(Analyte::creatinine, 1.3, hm(14)); }), GateName::fondaparinux, kNow,
       "ask clock +4d 15:00 | gate.drug.no-clock-alone{agent=@agent.fondaparinux last=-1d 15:00} | gate.fondaparinux.hold-impaired | from 14"},
      {"known to the day", fondaparinux(hm(-9), [](Bedside& b) { b.facts.administrations.back().start = b.facts.administrations.back().end = Moment{hm(-24), hm(-1, 59, 59)}; }), GateName::fondaparinux, kNow,
       "ask clock +1d 23:59:59 asks dose-time | gate.drug.ask-until{agent=@agent.fondaparinux last=[-1d 00:00..-1d 23:59:59] hold=48h opens=+1d 23:59:59} | gate.fondaparinux.hold | from 14 Patient/invented 11 12 13"},
      {"apixaban run out", tablet(Agent::apixaban, hm(-33)), oral, kNow,
       "open until +3d 08:00 since 15:00 | gate.drug.run-out-kidneys{agent=@agent.apixaban last=-2d 15:00 hold=48h opened=15:00 clearance=80.2 mL/min row=> 30} | gate.direct-oral-anticoagulant.hold | from 14 Patient/invented 11 12 13"},
      {"apixaban inside its hold", tablet(Agent::apixaban, hm(-30)), oral, kNow,
       "ask clock 18:00 | gate.drug.ask-until{agent=@agent.apixaban last=-2d 18:00 hold=48h opens=18:00} | gate.direct-oral-anticoagulant.hold | from 14 Patient/invented 11 12 13"},
      {"rivaroxaban, weak kidneys", tablet(Agent::rivaroxaban, hm(-33), creatinine(3)), oral, kNow,
       "ask clock +1d 15:00 | gate.drug.ask-until{agent=@agent.rivaroxaban last=-2d 15:00 hold=72h opens=+1d 15:00} | gate.direct-oral-anticoagulant.hold-impaired | from 14 Patient/invented 15 12 13"},
      {"edoxaban, kidneys not known", tablet(Agent::edoxaban, hm(-33), [](Bedside& b) { drop(b, {Analyte::creatinine}); }), oral, kNow,
       "ask clock +1d 15:00 asks creatinine | gate.drug.ask-until{agent=@agent.edoxaban last=-2d 15:00 hold=72h opens=+1d 15:00} | gate.direct-oral-anticoagulant.hold-impaired | from 14"},
      {"dabigatran, over 80", tablet(Agent::dabigatran, hm(-33)), oral, kNow,
       "open until +3d 08:00 since 15:00 | gate.drug.run-out-kidneys{agent=@agent.dabigatran last=-2d 15:00 hold=48h opened=15:00 clearance=80.2 mL/min row=> 80} | gate.direct-oral-anticoagulant.dabigatran-over-80 | from 14 Patient/invented 11 12 13"},
      {"dabigatran, 73", tablet(Agent::dabigatran, hm(-33), creatinine(1.1)), oral, kNow,
       "ask clock +1d 15:00 | gate.drug.ask-until{agent=@agent.dabigatran last=-2d 15:00 hold=72h opens=+1d 15:00} | gate.direct-oral-anticoagulant.dabigatran-50-80 | from 14 Patient/invented 15 12 13"},
      {"dabigatran, 40", tablet(Agent::dabigatran, hm(-33), creatinine(2)), oral, kNow,
       "ask clock +2d 15:00 | gate.drug.ask-until{agent=@agent.dabigatran last=-2d 15:00 hold=96h opens=+2d 15:00} | gate.direct-oral-anticoagulant.dabigatran-30-50 | from 14 Patient/invented 15 12 13"},
      {"dabigatran, 27", tablet(Agent::dabigatran, hm(-33), creatinine(3)), oral, kNow,
       "ask clock +3d 15:00 | gate.drug.ask-until{agent=@agent.dabigatran last=-2d 15:00 hold=120h opens=+3d 15:00} | gate.direct-oral-anticoagulant.dabigatran-under-30 | from 14 Patient/invented 15 12 13"},
      {"the later of two tablets", tablet(Agent::apixaban, hm(-30), [](Bedside& b) { b.home(Agent::rivaroxaban, exactly(hm(-32))); }), oral, kNow,
       "ask clock 18:00 | gate.drug.ask-until{agent=@agent.apixaban last=-2d 18:00 hold=48h opens=18:00} | gate.direct-oral-anticoagulant.hold | from 14 15 Patient/invented 11 12 13"},
      {"a tablet taken, nobody knows when", [](Bedside& b) { without_list(b); b.home(Agent::apixaban, {}); }, oral, kNow,
       "needs asks dose-time | gate.drug.time-unknown{agent=@agent.apixaban} | gate.direct-oral-anticoagulant.hold | from 14 Patient/invented 11 12 13"},
  });
}

TEST(GateSays, ThrombinInhibitors) {
  const auto creatinine = [](double value, Instant at = hm(8)) { return [=](Bedside& b) { if (at == hm(8)) drop(b, {Analyte::creatinine}); b.lab(Analyte::creatinine, value, at); }; };
  const auto given = [](Agent agent, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) { b.infusion(agent, hm(12, 10), hm(13, 10)); if (change) change(b); };
  };
  const auto b = Agent::bivalirudin, a = Agent::argatroban;
  const auto gate_b = GateName::bivalirudin, gate_a = GateName::argatroban;
  // 13:10 + 2 h = 15:10, + 165 min = 15:55, + 275 min = 17:45, + 430 min = 20:20. Clearance 80.2; creatinine 1.6: 50.1, 3.0: 26.7, 8.1: 9.9 mL/min.
  expect_said({
      {"waiting", given(b), gate_b, kNow, "closed opens 15:10 | gate.drug.waiting{agent=@agent.bivalirudin last=13:10 hold=2h opens=15:10} | gate.bivalirudin.hold | from 14 Patient/invented 11 12 13"},
      {"run out", given(b), gate_b, hm(15, 10), "open until +3d 08:00 since 15:10 | gate.drug.run-out-kidneys{agent=@agent.bivalirudin last=13:10 hold=2h opened=15:10 clearance=80.2 mL/min row=> 60} | gate.bivalirudin.hold | from 14 Patient/invented 11 12 13"},
      {"run out, height not recorded", given(b, [](Bedside& x) { drop(x, {Analyte::height}); }), gate_b, hm(15, 55),
       "open until +3d 08:00 | gate.drug.run-out-kidneys-no-height{agent=@agent.bivalirudin last=13:10 hold=165min opened=15:55 clearance=83.3 mL/min row=> 30, <= 60} | gate.bivalirudin.hold-moderate | from 14 Patient/invented 11 12"},
      {"an ACT over its limit", given(b, [](Bedside& x) { x.lab(Analyte::act, amount(150, "s"), hm(15, 2)); }), gate_b, hm(15, 10),
       "closed asks act | gate.act.over-limit{value=150 s drawn=15:02 limit=150 s} | gate.act.limit | from 15"},
      {"moderate", given(b, creatinine(1.6)), gate_b, kNow, "closed opens 15:55 | gate.drug.waiting{agent=@agent.bivalirudin last=13:10 hold=165min opens=15:55} | gate.bivalirudin.hold-moderate | from 14 Patient/invented 15 12 13"},
      {"severe", given(b, creatinine(3)), gate_b, kNow, "closed opens 17:45 | gate.drug.waiting{agent=@agent.bivalirudin last=13:10 hold=275min opens=17:45} | gate.bivalirudin.hold-severe | from 14 Patient/invented 15 12 13"},
      {"lowest", given(b, creatinine(8.1)), gate_b, kNow, "ask | gate.bivalirudin.lowest{stopped=13:10} | gate.bivalirudin.clearance-ask | from 14 Patient/invented 15 12 13"},
      {"dialysis", given(b, [](Bedside& x) { x.risk(RiskKind::dialysis); }), gate_b, kNow, "ask | gate.bivalirudin.dialysis{stopped=13:10} | gate.bivalirudin.clearance-ask | from 14"},
      {"creatinine rising", given(b, creatinine(1.3, hm(14))), gate_b, kNow, "ask | gate.bivalirudin.unstable{stopped=13:10} | gate.bivalirudin.clearance-ask | from 14"},
      {"kidneys not known", given(b, [](Bedside& x) { drop(x, {Analyte::creatinine}); }), gate_b, kNow,
       "ask asks creatinine | gate.bivalirudin.clearance-unknown{stopped=13:10} | gate.bivalirudin.clearance-ask | from 14"},
      {"running", [](Bedside& x) { x.infusion(Agent::bivalirudin, hm(14), {}); }, gate_b, kNow, "closed | gate.drug.running{agent=@agent.bivalirudin} | gate.bivalirudin.hold | from 14"},
      {"argatroban", given(a), gate_a, kNow, "closed opens 15:10 | gate.drug.waiting{agent=@agent.argatroban last=13:10 hold=2h opens=15:10} | gate.argatroban.hold | from 14"},
      {"argatroban, liver disease", given(a, [](Bedside& x) { x.risk(RiskKind::liver_disease); }), gate_a, kNow,
       "closed clock 20:20 asks liver-tests | gate.argatroban.liver-waiting{agent=@agent.argatroban last=13:10 hold=430min opens=20:20} | gate.argatroban.hold-liver | from 14 15"},
      {"argatroban, liver disease, after the clock", given(a, [](Bedside& x) { x.risk(RiskKind::liver_disease); }), gate_a, hm(20, 20),
       "ask asks liver-tests | gate.argatroban.liver{stopped=13:10} | gate.argatroban.hold-liver | from 14 15"},
      {"argatroban, liver tested", given(a, [](Bedside& x) { x.risk(RiskKind::liver_disease); x.lab(Analyte::bilirubin, 1, hm(9)); }), gate_a, hm(20, 20),
       "ask | gate.argatroban.liver{stopped=13:10} | gate.argatroban.hold-liver | from 14 15"},
      {"argatroban, liver tested otherwise", given(a, [](Bedside& x) { x.risk(RiskKind::liver_disease); x.lab(Analyte::alanine_aminotransferase, 30, hm(9)); }), gate_a, hm(20, 20),
       "ask | gate.argatroban.liver{stopped=13:10} | gate.argatroban.hold-liver | from 14 15"},
      {"argatroban, and by the third test", given(a, [](Bedside& x) { x.risk(RiskKind::liver_disease); x.lab(Analyte::aspartate_aminotransferase, 30, hm(9)); }), gate_a, hm(20, 20),
       "ask | gate.argatroban.liver{stopped=13:10} | gate.argatroban.hold-liver | from 14 15"},
  });
  const auto demands = [&](const std::function<void(Bedside&)>& change) {
    Bedside bed = ready();
    without_heparin(bed);
    drop(bed, {Analyte::act});
    bed.infusion(b, hm(12, 10), hm(13, 10));
    change(bed);
    return bed.gate(GateName::act, kNow).has_value();
  };
  // Over 60: the clock alone. 30 to 60 and 10 to 30: a value as well. Under 10: the question covers it.
  EXPECT_FALSE(demands([](Bedside&) {}));
  EXPECT_TRUE(demands(creatinine(1.6)));
  EXPECT_TRUE(demands(creatinine(3)));
  EXPECT_FALSE(demands(creatinine(8.1)));
}

TEST(GateSays, WarfarinInr) {
  constexpr auto kGate = GateName::warfarin_inr;
  const auto inr = [](double value, Instant at = hm(10)) { return [=](Bedside& b) { b.lab(Analyte::inr, value, at); }; };
  const auto says = [](const char* text) { return text; };
  expect_said({
      {"1.5", inr(1.5), kGate, kNow, says("open until +1d 10:00 since 12:00 seen '1.5' | gate.warfarin-inr.open{value=1.5 drawn=10:00 limit=1.5} | gate.warfarin-inr.open | from 14")},
      {"1.6", inr(1.6), kGate, kNow, "ask until +1d 10:00 seen '1.6' | gate.warfarin-inr.between{value=1.6 drawn=10:00 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"1.8", inr(1.8), kGate, kNow, "ask until +1d 10:00 seen '1.8' | gate.warfarin-inr.between{value=1.8 drawn=10:00 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"1.9", inr(1.9), kGate, kNow, "closed until +1d 10:00 seen '1.9' | gate.warfarin-inr.over{value=1.9 drawn=10:00 limit=1.8} | gate.warfarin-inr.ask | from 14"},
      {"two of one instant, the worse counts", [](Bedside& b) { b.lab(Analyte::inr, 1.9, hm(10)); b.lab(Analyte::inr, 1.2, hm(10)); }, kGate, kNow,
       "closed until +1d 10:00 seen '1.9' | gate.warfarin-inr.over{value=1.9 drawn=10:00 limit=1.8} | gate.warfarin-inr.ask | from 14 15"},
      {"none, none demanded", nullptr, kGate, kNow, "absent"},
      {"low and old, none demanded", inr(1.2, hm(-10)), kGate, kNow, "open since 12:00 seen '1.2' | gate.warfarin-inr.open{value=1.2 drawn=-1d 14:00 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"higher and old", inr(1.6, hm(-10)), kGate, kNow, "needs asks inr | gate.warfarin-inr.stale{value=1.6 drawn=-1d 14:00} | fresh.inr | from 14"},
      {"over and old", inr(2.5, hm(-10)), kGate, kNow, "needs asks inr | gate.warfarin-inr.stale{value=2.5 drawn=-1d 14:00} | fresh.inr | from 14"},
      {"warfarin, none drawn", [](Bedside& b) { without_list(b); b.home(Agent::warfarin, exactly(hm(-30))); }, kGate, kNow,
       "needs asks inr | gate.warfarin-inr.none{agent=@agent.warfarin} | fresh.inr-with-warfarin | from 14"},
      {"warfarin, 6 h old", [](Bedside& b) { without_list(b); b.home(Agent::warfarin, exactly(hm(-30))); b.lab(Analyte::inr, 1.2, hm(9, 5)); }, kGate, kNow,
       "open until 15:05 since 12:00 seen '1.2' | gate.warfarin-inr.open{value=1.2 drawn=09:05 limit=1.5} | gate.warfarin-inr.open | from 15"},
      {"warfarin, older", [](Bedside& b) { without_list(b); b.home(Agent::warfarin, exactly(hm(-30))); b.lab(Analyte::inr, 1.2, hm(9, 4, 59)); }, kGate, kNow,
       "needs asks inr | gate.warfarin-inr.stale{value=1.2 drawn=09:04:59} | fresh.inr-with-warfarin | from 15"},
      {"warfarin, nobody knows when", [](Bedside& b) { without_list(b); b.home(Agent::warfarin, {}); b.lab(Analyte::inr, 1.2, hm(14)); }, kGate, kNow,
       "needs asks dose-time | gate.drug.time-unknown{agent=@agent.warfarin} | fresh.inr-with-warfarin | from 14"},
      {"home not known, none drawn", without_list, kGate, kNow, "needs asks inr | gate.warfarin-inr.home-unknown | fresh.inr"},
      {"home not known, low", [](Bedside& b) { without_list(b); b.lab(Analyte::inr, 1.2, hm(10)); }, kGate, kNow,
       "open until +1d 10:00 seen '1.2' | gate.warfarin-inr.open{value=1.2 drawn=10:00 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"home not known, low and old", [](Bedside& b) { without_list(b); b.lab(Analyte::inr, 1.2, hm(-10)); }, kGate, kNow,
       "needs asks inr | gate.warfarin-inr.stale{value=1.2 drawn=-1d 14:00} | fresh.inr | from 14"},
      {"drawn before vitamin K", [](Bedside& b) { b.bolus(Agent::vitamin_k, hm(14)); b.lab(Analyte::inr, 1.4, hm(13, 30)); }, kGate, kNow,
       "needs asks inr | gate.warfarin-inr.before-dose{value=1.4 drawn=13:30} | fresh.inr-with-warfarin | from 15"},
      {"drawn after vitamin K", [](Bedside& b) { b.bolus(Agent::vitamin_k, hm(14)); b.lab(Analyte::inr, 1.4, hm(14, 30)); }, kGate, kNow,
       "open until 20:30 since 14:30 seen '1.4' | gate.warfarin-inr.open{value=1.4 drawn=14:30 limit=1.5} | gate.warfarin-inr.open | from 15"},
      {"over, drawn before vitamin K", [](Bedside& b) { b.bolus(Agent::vitamin_k, hm(14)); b.lab(Analyte::inr, 1.9, hm(13, 30)); }, kGate, kNow,
       "closed until 19:30 seen '1.9' | gate.warfarin-inr.over{value=1.9 drawn=13:30 limit=1.8} | gate.warfarin-inr.ask | from 15"},
      {"no result", [](Bedside& b) { b.no_value(Analyte::inr, hm(14)); }, kGate, kNow, "needs asks inr | gate.warfarin-inr.no-value{drawn=14:00} | fresh.inr | from 14"},
      {"somewhere under 2", [](Bedside& b) { b.lab(Analyte::inr, compared(Comparator::less, 2), hm(14)); }, kGate, kNow,
       "needs asks inr | gate.warfarin-inr.unsure{value=<2 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"decided", [](Bedside& b) { b.lab(Analyte::inr, 1.6, hm(10)); b.decide(GateName::warfarin_inr, "1.6", hm(14, 30)); }, kGate, kNow,
       "open until 15:30 since 14:30 seen '1.6' | gate.decided{by=Dr Invented at=14:30 until=15:30} | case.decision-validity | from 14 15"},
      {"decided 60 min ago", [](Bedside& b) { b.lab(Analyte::inr, 1.6, hm(10)); b.decide(GateName::warfarin_inr, "1.6", hm(14, 5)); }, kGate, kNow,
       "open until 15:05 since 14:05 seen '1.6' | gate.decided{by=Dr Invented at=14:05 until=15:05} | case.decision-validity | from 14 15"},
      {"decided earlier than that", [](Bedside& b) { b.lab(Analyte::inr, 1.6, hm(10)); b.decide(GateName::warfarin_inr, "1.6", hm(14, 4, 59)); }, kGate, kNow,
       "ask until +1d 10:00 seen '1.6' | gate.warfarin-inr.between{value=1.6 drawn=10:00 limit=1.5} | gate.warfarin-inr.open | from 14"},
      {"decided on a value that ends sooner", [](Bedside& b) { b.lab(Analyte::inr, 1.6, hm(-9, 10)); b.decide(GateName::warfarin_inr, "1.6", hm(14, 30)); }, kGate, kNow,
       "open until 15:10 since 14:30 seen '1.6' | gate.decided{by=Dr Invented at=14:30 until=15:30} | case.decision-validity | from 14 15"},
  });
}

TEST(GateSays, Fibrinolytic) {
  constexpr auto kGate = GateName::fibrinolytic;
  const auto given = [](Agent agent, Instant at, const std::function<void(Bedside&)>& change = nullptr) {
    return [=](Bedside& b) { b.bolus(agent, at); if (change) change(b); };
  };
  const auto fibrinogen = [](double value, Instant at = hm(14)) { return [=](Bedside& b) { b.lab(Analyte::fibrinogen, value, at); }; };
  const auto alteplase = Agent::alteplase;
  // 12:30 + 24 h and, of reteplase, + 48 h; 1 March 15:00 + 24 h = 2 March 15:00; a fibrinogen of 14:00 holds until 20:00.
  expect_said({
      {"no value", given(alteplase, hm(12, 30)), kGate, kNow, "needs asks fibrinogen | gate.fibrinolytic.draw{dose=12:30} | gate.fibrinolytic.fibrinogen | from 14"},
      {"from before the dose", given(alteplase, hm(12, 30), fibrinogen(2, hm(12, 30))), kGate, kNow, "needs asks fibrinogen | gate.fibrinolytic.draw{dose=12:30} | gate.fibrinolytic.fibrinogen | from 14"},
      {"1.4", given(alteplase, hm(12, 30), fibrinogen(1.4)), kGate, kNow,
       "closed until 20:00 seen '1.4' | gate.fibrinolytic.below-limit{value=1.4 drawn=14:00 limit=1.5 g/L} | gate.fibrinolytic.fibrinogen | from 14 15"},
      {"1.5", given(alteplase, hm(12, 30), fibrinogen(1.5)), kGate, kNow,
       "ask until 20:00 clock +1d 12:30 seen '1.5' | gate.fibrinolytic.recent{agent=@agent.alteplase value=1.5 opens=+1d 12:30} | gate.fibrinolytic.ask-within | from 14 15"},
      {"reteplase", given(Agent::reteplase, hm(12, 30), fibrinogen(1.5)), kGate, kNow,
       "ask until 20:00 clock +2d 12:30 seen '1.5' | gate.fibrinolytic.recent{agent=@agent.reteplase value=1.5 opens=+2d 12:30} | gate.fibrinolytic.ask-within-reteplase | from 14 15"},
      {"a day later", given(alteplase, hm(-9), fibrinogen(1.5)), kGate, kNow,
       "open until 20:00 since 15:00 seen '1.5' | gate.fibrinolytic.open{value=1.5 drawn=14:00 limit=1.5 g/L} | gate.fibrinolytic.fibrinogen | from 14 15"},
      {"old", given(alteplase, hm(12, 30), fibrinogen(1.5)), kGate, hm(20, 0, 1),
       "needs asks fibrinogen | gate.fibrinolytic.stale{value=1.5 drawn=14:00 limit=1.5 g/L} | fresh.fibrinogen | from 14 15"},
      {"no result", given(alteplase, hm(12, 30), [](Bedside& b) { b.no_value(Analyte::fibrinogen, hm(14)); }), kGate, kNow,
       "needs asks fibrinogen | gate.fibrinolytic.no-value{drawn=14:00} | gate.fibrinolytic.fibrinogen | from 14 15"},
      {"somewhere under 2", given(alteplase, hm(12, 30), [](Bedside& b) { b.lab(Analyte::fibrinogen, compared(Comparator::less, 2), hm(14)); }), kGate, kNow,
       "needs asks fibrinogen | gate.fibrinolytic.unsure{value=<2 drawn=14:00 limit=1.5 g/L} | gate.fibrinolytic.fibrinogen | from 14 15"},
  });
}

TEST(GateSays, Platelets) {
  constexpr auto kGate = GateName::platelets;
  const auto instead = [](const std::function<void(Bedside&)>& change) { return [=](Bedside& b) { drop(b, {Analyte::platelets}); change(b); }; };
  const auto count = [](double value, Instant at = hm(14)) { return [=](Bedside& b) { b.lab(Analyte::platelets, value, at); }; };
  expect_said({
      {"49", count(49), kGate, kNow, "closed until +1d 14:00 seen '49' | gate.platelets.below-limit{value=49 drawn=14:00 limit=50 x 10^9/L} | gate.platelets.limit | from 14"},
      {"50", count(50), kGate, kNow, "open until +1d 14:00 since 12:00 seen '50' | gate.platelets.open{value=50 drawn=14:00 limit=50 x 10^9/L} | gate.platelets.limit | from 14"},
      {"two of one instant, the worse counts", [](Bedside& b) { b.lab(Analyte::platelets, 49, hm(8)); }, kGate, kNow,
       "closed until +1d 08:00 seen '49' | gate.platelets.below-limit{value=49 drawn=08:00 limit=50 x 10^9/L} | gate.platelets.limit | from 8 14"},
      {"none", instead([](Bedside&) {}), kGate, kNow, "needs asks platelets | gate.platelets.none | gate.platelets.limit"},
      {"24 h old", instead(count(210, hm(-9, 5))), kGate, kNow, "open until 15:05 since 12:00 seen '210' | gate.platelets.open{value=210 drawn=-1d 15:05 limit=50 x 10^9/L} | gate.platelets.limit | from 14"},
      {"older", instead(count(210, hm(-9))), kGate, kNow, "needs asks platelets | gate.platelets.stale{value=210 drawn=-1d 15:00 limit=50 x 10^9/L} | fresh.platelets | from 14"},
      {"low and old", instead(count(49, hm(-9))), kGate, kNow, "needs asks platelets | gate.platelets.stale{value=49 drawn=-1d 15:00 limit=50 x 10^9/L} | fresh.platelets | from 14"},
      {"from before a GP inhibitor could act", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(13, 20), {}); }, kGate, kNow,
       "needs clock 15:20 asks platelets | gate.platelets.after-inhibitor{from=15:20} | fresh.platelets-after-gp-inhibitor-start | from 8"},
      {"and later", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(13, 20), {}); }, kGate, hm(15, 20),
       "needs asks platelets | gate.platelets.after-inhibitor{from=15:20} | fresh.platelets-after-gp-inhibitor-start | from 8"},
      {"2 h after its start", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(13, 20), {}); b.lab(Analyte::platelets, 200, hm(15, 20)); }, kGate, hm(15, 20),
       "open until 21:20 seen '200' | gate.platelets.open{value=200 drawn=15:20 limit=50 x 10^9/L} | gate.platelets.limit | from 15"},
      {"its start not recorded", [](Bedside& b) { auto& a = b.bolus(Agent::tirofiban, hm(13)); a.start.reset(); a.end.reset(); }, kGate, kNow,
       "needs asks dose-time | gate.platelets.inhibitor-start | fresh.platelets-after-gp-inhibitor-start | from 8"},
      {"low already before it", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(13, 20), {}); b.lab(Analyte::platelets, 49, hm(13)); }, kGate, kNow,
       "closed until 19:00 seen '49' | gate.platelets.below-limit{value=49 drawn=13:00 limit=50 x 10^9/L} | gate.platelets.limit | from 15"},
      {"no result", [](Bedside& b) { b.no_value(Analyte::platelets, hm(14)); }, kGate, kNow, "needs asks platelets | gate.platelets.no-value{drawn=14:00} | gate.platelets.limit | from 14"},
      {"somewhere under 60", [](Bedside& b) { b.lab(Analyte::platelets, compared(Comparator::less, 60), hm(14)); }, kGate, kNow,
       "needs asks platelets | gate.platelets.unsure{value=<60 drawn=14:00 limit=50 x 10^9/L} | gate.platelets.limit | from 14"},
  });
}

TEST(GateSays, BloodPressure) {
  constexpr auto kGate = GateName::blood_pressure;
  const auto now_at = [](double systolic, double diastolic = 70) { return [=](Bedside& b) { b.pressure(systolic, diastolic, hm(15, 2)); }; };
  const auto instead = [](const std::function<void(Bedside&)>& change) { return [=](Bedside& b) { drop(b, {Analyte::systolic, Analyte::diastolic}); change(b); }; };
  expect_said({
      {"none", instead([](Bedside&) {}), kGate, kNow, "needs asks blood-pressure | gate.blood-pressure.none | fresh.blood-pressure"},
      {"old", nullptr, kGate, hm(15, 15, 1), "needs asks blood-pressure | gate.blood-pressure.stale{at=15:00} | fresh.blood-pressure | from 5 6"},
      {"no diastolic", instead([](Bedside& b) { b.lab(Analyte::systolic, 130, hm(15)); }), kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.incomplete{at=15:00} | fresh.blood-pressure | from 14"},
      {"diastolic older than 15 min", instead([](Bedside& b) { b.lab(Analyte::systolic, 130, hm(15, 5)); b.lab(Analyte::diastolic, 70, hm(14, 49)); }), kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.stale{at=14:49} | fresh.blood-pressure | from 14 15"},
      {"systolic without a result", [](Bedside& b) { b.no_value(Analyte::systolic, hm(15, 2)); b.lab(Analyte::diastolic, 70, hm(15, 2)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.incomplete{at=15:02} | fresh.blood-pressure | from 14 15"},
      {"149", now_at(149), kGate, kNow, "open until 15:17 since 15:00 seen '149' | gate.blood-pressure.open{value=149 at=15:02 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"150", now_at(150), kGate, kNow, "ask until 15:17 seen '150' | gate.blood-pressure.between{value=150 at=15:02 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"159", now_at(159), kGate, kNow, "ask until 15:17 seen '159' | gate.blood-pressure.between{value=159 at=15:02 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"160", now_at(160), kGate, kNow, "closed until 15:17 seen '160' | gate.blood-pressure.high{value=160 at=15:02 limit=160 mmHg} | gate.blood-pressure.systolic-close | from 14 15"},
      {"90", now_at(90), kGate, kNow, "open until 15:17 since 15:00 seen '130' | gate.blood-pressure.open{value=130 at=15:00 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 14 15 5"},
      {"89", now_at(89), kGate, kNow, "closed until 15:17 seen '89' | gate.blood-pressure.low{value=89 at=15:02 limit=90 mmHg} | gate.blood-pressure.systolic-low | from 14 15"},
      {"diastolic 100", now_at(130, 100), kGate, kNow, "closed until 15:17 seen '100' | gate.blood-pressure.diastolic-high{value=100 at=15:02 limit=100 mmHg} | gate.blood-pressure.diastolic-close | from 14 15"},
      {"diastolic 99", now_at(131, 99), kGate, kNow, "open until 15:17 since 15:00 seen '131' | gate.blood-pressure.open{value=131 at=15:02 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"worse 5 min before", [](Bedside& b) { b.lab(Analyte::systolic, 159, hm(14, 57)); b.pressure(130, 70, hm(15, 2)); }, kGate, kNow,
       "ask until 15:17 seen '159' | gate.blood-pressure.between{value=159 at=14:57 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 15 16 14"},
      {"worse earlier than that", [](Bedside& b) { b.lab(Analyte::systolic, 159, hm(14, 56, 59)); b.pressure(131, 70, hm(15, 2)); }, kGate, kNow,
       "open until 15:17 since 15:02 seen '131' | gate.blood-pressure.open{value=131 at=15:02 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 15 16"},
      {"high 30 min before, one reading since", [](Bedside& b) { b.lab(Analyte::systolic, 160, hm(14, 30)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.after-high{apart=5min limit=150 mmHg} | gate.blood-pressure.after-high | from 5 6"},
      {"diastolic high then", [](Bedside& b) { b.lab(Analyte::diastolic, 100, hm(14, 30)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.after-high{apart=5min limit=150 mmHg} | gate.blood-pressure.after-high | from 5 6"},
      {"high earlier than that", [](Bedside& b) { b.lab(Analyte::systolic, 160, hm(14, 29, 59)); }, kGate, kNow,
       "open until 15:15 since 15:00 seen '130' | gate.blood-pressure.open{value=130 at=15:00 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 5 6"},
      {"two readings 5 min apart since", [](Bedside& b) { b.lab(Analyte::systolic, 160, hm(14, 50)); b.pressure(128, 70, hm(15, 5)); }, kGate, kNow,
       "open until 15:20 since 15:05 seen '130' | gate.blood-pressure.open{value=130 at=15:00 limit=150 mmHg} | gate.blood-pressure.systolic-open-below | from 15 16 5"},
      {"less than that apart", [](Bedside& b) { b.lab(Analyte::systolic, 160, hm(14, 50)); b.pressure(128, 70, hm(15, 4, 59)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.after-high{apart=5min limit=150 mmHg} | gate.blood-pressure.after-high | from 15 16 5"},
      {"one of the two at the instant of the high one", [](Bedside& b) { b.lab(Analyte::diastolic, 100, hm(14, 55)); b.lab(Analyte::systolic, 130, hm(14, 55)); }, kGate, kNow,
       "closed until 15:15 seen '100' | gate.blood-pressure.diastolic-high{value=100 at=14:55 limit=100 mmHg} | gate.blood-pressure.diastolic-close | from 5 6 14"},
      {"somewhere under 120", [](Bedside& b) { b.lab(Analyte::systolic, compared(Comparator::less, 120), hm(15, 2)); b.lab(Analyte::diastolic, 70, hm(15, 2)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.unsure{value=<120} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"somewhere from 90 on", [](Bedside& b) { b.lab(Analyte::systolic, compared(Comparator::at_least, 90), hm(15, 2)); b.lab(Analyte::diastolic, 70, hm(15, 2)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.unsure{value=>=90} | gate.blood-pressure.systolic-open-below | from 14 15"},
      {"diastolic somewhere under 110", [](Bedside& b) { b.lab(Analyte::systolic, 130, hm(15, 2)); b.lab(Analyte::diastolic, compared(Comparator::less, 110), hm(15, 2)); }, kGate, kNow,
       "needs asks blood-pressure | gate.blood-pressure.unsure{value=<110} | gate.blood-pressure.systolic-open-below | from 14 15"},
  });
}

TEST(GateSays, HeartRate) {
  constexpr auto kGate = GateName::heart_rate;
  const auto rate = [](double value) { return [=](Bedside& b) { b.lab(Analyte::heart_rate, value, hm(15, 2)); }; };
  expect_said({
      {"none", [](Bedside& b) { drop(b, {Analyte::heart_rate}); }, kGate, kNow, "needs asks heart-rate | gate.heart-rate.none | fresh.heart-rate"},
      {"old", nullptr, kGate, hm(15, 15, 1), "needs asks heart-rate | gate.heart-rate.stale{at=15:00} | fresh.heart-rate | from 7"},
      {"no result", [](Bedside& b) { b.no_value(Analyte::heart_rate, hm(15, 2)); }, kGate, kNow, "needs asks heart-rate | gate.heart-rate.no-value{at=15:02} | fresh.heart-rate | from 14"},
      {"120", rate(120), kGate, kNow, "open until 15:17 since 15:00 seen '120' | gate.heart-rate.open{value=120 at=15:02 limit=120/min} | gate.heart-rate.high-open | from 14"},
      {"121", rate(121), kGate, kNow, "ask until 15:17 seen '121' | gate.heart-rate.high{value=121 at=15:02 limit=120/min} | gate.heart-rate.high-open | from 14"},
      {"50", rate(50), kGate, kNow, "open until 15:17 since 15:00 seen '50' | gate.heart-rate.open{value=50 at=15:02 limit=120/min} | gate.heart-rate.high-open | from 14"},
      {"49", rate(49), kGate, kNow, "ask until 15:17 seen '49' | gate.heart-rate.low{value=49 at=15:02 limit=50/min} | gate.heart-rate.low-open | from 14"},
      {"40", rate(40), kGate, kNow, "ask until 15:17 seen '40' | gate.heart-rate.low{value=40 at=15:02 limit=50/min} | gate.heart-rate.low-open | from 14"},
      {"39", rate(39), kGate, kNow, "closed until 15:17 seen '39' | gate.heart-rate.very-low{value=39 at=15:02 limit=40/min} | gate.heart-rate.close-below | from 14"},
      {"fast and slow at one instant", [&](Bedside& b) { rate(130)(b); rate(39)(b); }, kGate, kNow,
       "closed until 15:17 seen '39' | gate.heart-rate.very-low{value=39 at=15:02 limit=40/min} | gate.heart-rate.close-below | from 14 15"},
      {"somewhere under 60", [](Bedside& b) { b.lab(Analyte::heart_rate, compared(Comparator::less, 60), hm(15, 2)); }, kGate, kNow,
       "needs asks heart-rate | gate.heart-rate.unsure{value=<60} | fresh.heart-rate | from 14"},
  });
}

TEST(GateSays, Haemoglobin) {
  constexpr auto kGate = GateName::haemoglobin;
  const auto value = [](double v) { return [=](Bedside& b) { b.lab(Analyte::haemoglobin, v, hm(14, 30)); }; };
  const auto instead = [](const std::function<void(Bedside&)>& change) { return [=](Bedside& b) { drop(b, {Analyte::haemoglobin}); change(b); }; };
  expect_said({
      {"7.9", value(7.9), kGate, kNow, "ask until +1d 14:30 seen '7.9' | gate.haemoglobin.low{value=7.9 drawn=14:30 limit=8 g/dL} | gate.haemoglobin.low | from 14"},
      {"fallen by 2.0", value(11.5), kGate, kNow, "ask until +1d 14:30 seen '11.5' | gate.haemoglobin.fall{value=11.5 drawn=14:30 limit=2 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.fall | from 14 9"},
      {"fallen by 1.9", value(11.6), kGate, kNow, "open until +1d 14:30 since 12:00 seen '11.6' | gate.haemoglobin.open{value=11.6 drawn=14:30 limit=8 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.low | from 14 9"},
      {"8.0, nothing higher before", instead([](Bedside& b) { b.lab(Analyte::haemoglobin, 8, hm(8)); b.lab(Analyte::haemoglobin, 8, hm(14, 30)); }), kGate, kNow,
       "open until +1d 14:30 since 12:00 seen '8' | gate.haemoglobin.open{value=8 drawn=14:30 limit=8 g/dL baseline=8 measured=08:00} | gate.haemoglobin.low | from 15 14"},
      {"the highest of seven days: 13.1 of 14:00 was a fall by 2.1", [&](Bedside& b) { b.lab(Analyte::haemoglobin, 15.2, hm(12 - 7 * 24)); value(13.3)(b); }, kGate, kNow,
       "open until +1d 14:30 since 14:30 seen '13.3' | gate.haemoglobin.open{value=13.3 drawn=14:30 limit=8 g/dL baseline=15.2 measured=-7d 12:00} | gate.haemoglobin.low | from 15 14"},
      {"one from before them", [&](Bedside& b) { b.lab(Analyte::haemoglobin, 15.2, hm(12 - 7 * 24, 0, -1)); value(13)(b); }, kGate, kNow,
       "open until +1d 14:30 since 12:00 seen '13' | gate.haemoglobin.open{value=13 drawn=14:30 limit=8 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.low | from 15 9"},
      {"one value", instead(value(13)), kGate, kNow, "open until +1d 14:30 since 14:30 asks haemoglobin seen '13' | gate.haemoglobin.one-value{value=13 drawn=14:30 limit=8 g/dL} | gate.haemoglobin.low | from 14"},
      {"none", instead([](Bedside&) {}), kGate, kNow, "needs asks haemoglobin | gate.haemoglobin.none | fresh.haemoglobin"},
      {"no result", [](Bedside& b) { b.no_value(Analyte::haemoglobin, hm(14, 30)); }, kGate, kNow, "needs asks haemoglobin | gate.haemoglobin.no-value{drawn=14:30} | fresh.haemoglobin | from 14"},
      {"old", instead([](Bedside& b) { b.lab(Analyte::haemoglobin, 13, hm(-9)); }), kGate, kNow, "needs asks haemoglobin | gate.haemoglobin.stale{value=13 drawn=-1d 15:00} | fresh.haemoglobin | from 14"},
      {"somewhere under 14", [](Bedside& b) { b.lab(Analyte::haemoglobin, compared(Comparator::less, 14), hm(14, 30)); }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.unsure{value=<14} | gate.haemoglobin.low | from 14"},
      {"older than back pain", [](Bedside& b) { b.check(hm(14, 10)).back_pain = true; }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:10} | fresh.haemoglobin | from 10"},
      {"older than blood", [](Bedside& b) { b.check(hm(14, 10)).bleeding = Bleeding::bleeding; }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:10} | fresh.haemoglobin | from 10"},
      {"older than growth", [](Bedside& b) { b.check(hm(14, 10)).growth = true; }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:10} | fresh.haemoglobin | from 10"},
      {"older than a large swelling", [](Bedside& b) { b.check(hm(14, 10)).swelling = amount(5, "cm"); }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:10} | fresh.haemoglobin | from 10"},
      {"a small swelling is no sign", [](Bedside& b) { b.check(hm(14, 10)).swelling = amount(4.9, "cm"); }, kGate, kNow,
       "open until +1d 14:00 since 12:00 seen '13.1' | gate.haemoglobin.open{value=13.1 drawn=14:00 limit=8 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.low | from 10 9"},
      {"older than a rebleed", [](Bedside& b) { b.site().rebleeds.push_back(hm(14, 10)); }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:10} | fresh.haemoglobin | from 10"},
      {"in the minute of the sign", [](Bedside& b) { b.site().rebleeds.push_back(hm(14)); }, kGate, kNow,
       "needs asks haemoglobin | gate.haemoglobin.after-bleeding{value=13.1 drawn=14:00 sign=14:00} | fresh.haemoglobin | from 10"},
      {"newer than the sign", [](Bedside& b) { b.site().rebleeds.push_back(hm(13, 59, 59)); }, kGate, kNow,
       "open until +1d 14:00 since 14:00 seen '13.1' | gate.haemoglobin.open{value=13.1 drawn=14:00 limit=8 g/dL baseline=13.5 measured=08:00} | gate.haemoglobin.low | from 10 9"},
  });
}

}  // namespace
}  // namespace clinical
