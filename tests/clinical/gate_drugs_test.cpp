// Clocks of drugs by dose, kidneys and liver. Sources of the figures stand beside the groups.
#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto open = GateState::open, closed = GateState::closed, needs = GateState::needs, ask = GateState::ask;
constexpr std::nullopt_t absent = std::nullopt;
constexpr auto kBivalirudin = GateName::bivalirudin, kArgatroban = GateName::argatroban, kLow = GateName::low_molecular_weight_heparin,
               kFonda = GateName::fondaparinux, kOral = GateName::direct_oral_anticoagulant, kGp = GateName::gp_inhibitor;

/// A man of 65, 72 kg, 180 cm: 75 x 72 / (72 x creatinine) mL/min (Cockcroft and Gault, Nephron 1976;16:31), so creatinine = 75 / clearance.
void kidneys(Bedside& bed, double clearance) {
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine || m.analyte == Analyte::weight; });
  bed.lab(Analyte::creatinine, 75 / clearance, hm(8));
  bed.lab(Analyte::weight, 72, hm(8));
}
void no_height(Bedside& bed) {
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::height; });
}
void no_creatinine(Bedside& bed) {
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine; });
}
/// ready() with another drug in place of heparin, stopped or taken at an instant.
std::function<void(Bedside&)> drug(Agent agent, Instant at, double clearance, std::function<void(Bedside&)> more = {}) {
  return [=](Bedside& bed) {
    bed.facts.administrations.clear();
    bed.bolus(agent, at);
    kidneys(bed, clearance);
    if (more) more(bed);
  };
}
std::function<void(Bedside&)> home(Agent agent, Instant at, double clearance, std::function<void(Bedside&)> more = {}) {
  return [=](Bedside& bed) {
    bed.facts.home_lists.clear();
    bed.home(agent, exactly(at));
    kidneys(bed, clearance);
    if (more) more(bed);
  };
}
void no_act(Bedside& b) {
  std::erase_if(b.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::act; });
}
void act(Bedside& b, double value, Instant at) { no_act(b), b.lab(Analyte::act, value, at); }

// Half-lives 25 / 34 / 57 min, dialysis 3.5 h: bivalirudin US label 12.3. 2 h in normal renal function: REPLACE-2 practice (from memory), a 2 h protocol
// published 2004. Scaled: 120 x 34/25 = 163.2 -> 165 min, 120 x 57/25 = 273.6 -> 275 min. An edge falls in the more impaired row.
const std::vector<GateRow> kBivalirudinRows = {
    {"clearance 60.1: 2 h", drug(Agent::bivalirudin, hm(12), 60.1), kBivalirudin, hm(13), closed, hm(14)},
    {"open at 2 h", drug(Agent::bivalirudin, hm(12), 60.1), kBivalirudin, hm(14), open},
    {"clearance 60: 2 h 45", drug(Agent::bivalirudin, hm(12), 60), kBivalirudin, hm(13), closed, hm(14, 45)},
    {"clearance 30.1: 2 h 45", drug(Agent::bivalirudin, hm(12), 30.1), kBivalirudin, hm(13), closed, hm(14, 45)},
    {"clearance 30: 4 h 35", drug(Agent::bivalirudin, hm(12), 30), kBivalirudin, hm(13), closed, hm(16, 35)},
    {"clearance 25: 4 h 35", drug(Agent::bivalirudin, hm(12), 25), kBivalirudin, hm(13), closed, hm(16, 35)},
    {"clearance 10: ask", drug(Agent::bivalirudin, hm(12), 10), kBivalirudin, hm(20), ask},
    {"dialysis: ask", drug(Agent::bivalirudin, hm(12), 70, [](Bedside& b) { b.risk(RiskKind::dialysis); }), kBivalirudin, hm(20), ask},
    {"unknown: ask", drug(Agent::bivalirudin, hm(12), 70, no_creatinine), kBivalirudin, hm(20), ask},
    {"creatinine older than 72 h: ask", drug(Agent::bivalirudin, hm(78), 70), kBivalirudin, hm(80, 0, 1), ask},
    {"rising by 0.3 in 48 h: ask", drug(Agent::bivalirudin, hm(12), 75, [](Bedside& b) { b.lab(Analyte::creatinine, 0.7, hm(-40)); }), kBivalirudin, hm(20), ask},
    {"height missing: the next worse row", drug(Agent::bivalirudin, hm(12), 70, no_height), kBivalirudin, hm(13), closed, hm(14, 45)},
    {"running", [](Bedside& b) { drug(Agent::heparin, hm(12), 70)(b), b.infusion(Agent::bivalirudin, hm(12), {}); }, kBivalirudin, hm(20), closed},
    {"the clock starts at the true stop", [](Bedside& b) { drug(Agent::bivalirudin, hm(12), 70)(b), b.infusion(Agent::bivalirudin, hm(12), hm(14)); }, kBivalirudin, hm(15), closed, hm(16)},
    {"stop not recorded", [](Bedside& b) { drug(Agent::bivalirudin, hm(12), 70)(b), b.infusion(Agent::bivalirudin, hm(12), {}).status = AdministrationStatus::completed; }, kBivalirudin, hm(20), needs},
    {"a value at the limit after the stop blocks, whatever its age", drug(Agent::bivalirudin, hm(12), 70, [](Bedside& b) { act(b, 150, hm(12, 30)); }), kBivalirudin, hm(20), closed},
    {"clearance over 60: no act gate", drug(Agent::bivalirudin, hm(12), 70), GateName::act, hm(15, 5), absent},
    {"30 to 60: act too", drug(Agent::bivalirudin, hm(12), 40, no_act), GateName::act, hm(15, 5), needs},
    {"30 to 60: an aPTT will do", drug(Agent::bivalirudin, hm(12), 40, [](Bedside& b) { no_act(b), b.lab(Analyte::aptt, 40, hm(15)); }), GateName::act, hm(15, 5), open},
    {"10 to 30: act too", drug(Agent::bivalirudin, hm(12), 25), GateName::act, hm(15, 5), open},
    {"ask: no act gate", drug(Agent::bivalirudin, hm(12), 10), GateName::act, hm(15, 5), absent},
};

// 2 h and an ACT: PCI trials in heparin-induced thrombocytopenia (from memory). Liver: 120 x 181/51 = 425.9 -> 430 min (label half-lives, from memory).
const std::vector<GateRow> kArgatrobanRows = {
    {"2 h", drug(Agent::argatroban, hm(12), 70), kArgatroban, hm(13), closed, hm(14)},
    {"open at 2 h", drug(Agent::argatroban, hm(12), 10), kArgatroban, hm(14), open},
    {"an ACT is demanded", drug(Agent::argatroban, hm(12), 70, no_act), GateName::act, hm(15, 5), needs},
    {"an aPTT does not stand in", drug(Agent::argatroban, hm(12), 70, [](Bedside& b) { no_act(b), b.lab(Analyte::aptt, 30, hm(15)); }), GateName::act, hm(15, 5), needs},
    {"liver disease: closed, and no clock opens it", drug(Agent::argatroban, hm(12), 70, [](Bedside& b) { b.risk(RiskKind::liver_disease); }), kArgatroban, hm(19, 9, 59), closed},
    {"then ask", drug(Agent::argatroban, hm(12), 70, [](Bedside& b) { b.risk(RiskKind::liver_disease); }), kArgatroban, hm(19, 10), ask},
};

// 6 h intravenous: enoxaparin label 4.2 (from memory); 8 h subcutaneous: ACC/AHA PCI documents (secondary copies); 30 mL/min: EU product information 5.2.
const std::vector<GateRow> kLowRows = {
    {"not given", [](Bedside&) {}, kLow, hm(15), absent},
    {"subcutaneous: 8 h", drug(Agent::enoxaparin, hm(8), 90, [](Bedside& b) { b.facts.administrations.back().route = Route::subcutaneous; }), kLow, hm(15), closed, hm(16)},
    {"route unknown counts as subcutaneous", drug(Agent::enoxaparin, hm(8), 90), kLow, hm(15), closed, hm(16)},
    {"intravenous: 6 h", drug(Agent::enoxaparin, hm(10), 90, [](Bedside& b) { b.facts.administrations.back().route = Route::intravenous; }), kLow, hm(15), closed, hm(16)},
    {"open at 8 h", drug(Agent::enoxaparin, hm(8), 90), kLow, hm(16), open},
    {"clearance 30: never by clock alone", drug(Agent::enoxaparin, hm(-20), 30), kLow, hm(16), ask},
    {"clearance unknown: never by clock alone", drug(Agent::enoxaparin, hm(-20), 90, no_creatinine), kLow, hm(16), ask},
    {"at home, last dose not recorded", [](Bedside& b) { b.home(Agent::enoxaparin, {}), kidneys(b, 90); }, kLow, hm(15), needs},
    {"at home, known by its date only, may be within the hold", [](Bedside& b) { b.home(Agent::enoxaparin, Moment{hm(0), hm(11, 59, 59)}), kidneys(b, 90); }, kLow, hm(15), needs},
    {"at home, known by its date only, surely over", [](Bedside& b) { b.home(Agent::enoxaparin, Moment{hm(-24), hm(-1)}), kidneys(b, 90); }, kLow, hm(15), open},
    {"a prescription without a last dose is not a dose", [](Bedside& b) { b.home(Agent::enoxaparin, {}).told_by_request = true; }, kLow, hm(15), absent},
    {"an ACT does not clear it", drug(Agent::tinzaparin, hm(13), 90), kLow, hm(15, 5), closed, hm(21)},
};

// 48 h, 120 h under 50 mL/min: SIR consensus 2019 part II, J Vasc Interv Radiol 2019;30:1168.
const std::vector<GateRow> kFondaparinuxRows = {
    {"clearance 60, 47 h: ask", home(Agent::fondaparinux, hm(-32), 60), kFonda, hm(15), ask},
    {"clearance 60, 48 h: open", home(Agent::fondaparinux, hm(-33), 60), kFonda, hm(15), open},
    {"clearance 50, 48 h: ask", home(Agent::fondaparinux, hm(-33), 50), kFonda, hm(15), ask},
    {"clearance 40, 120 h: open", home(Agent::fondaparinux, hm(-105), 40), kFonda, hm(15), open},
    {"clearance unknown takes the long row", home(Agent::fondaparinux, hm(-33), 60, no_creatinine), kFonda, hm(15), ask},
    {"clearance unknown, 120 h: open", home(Agent::fondaparinux, hm(-105), 60, no_creatinine), kFonda, hm(15), open},
    {"dialysis: no clock alone", home(Agent::fondaparinux, hm(-140), 60, [](Bedside& b) { b.risk(RiskKind::dialysis); }), kFonda, hm(15), ask},
};

// Femoral holds: ACC expert consensus decision pathway 2020, as cited in secondary copies. Monday 2 March 2026, 20:00 + 48 h = Wednesday 20:00.
const std::vector<GateRow> kOralRows = {
    {"rivaroxaban, clearance 35, 1 s before 48 h", home(Agent::rivaroxaban, hm(-28), 35), kOral, hm(19, 59, 59), ask},
    {"rivaroxaban, clearance 35, 48 h", home(Agent::rivaroxaban, hm(-28), 35), kOral, hm(20), open},
    {"rivaroxaban, clearance 25, 48 h", home(Agent::rivaroxaban, hm(-28), 25), kOral, hm(20), ask},
    {"rivaroxaban, clearance 25, 72 h", home(Agent::rivaroxaban, hm(-52), 25), kOral, hm(20), open},
    {"clearance 30 is the impaired row", home(Agent::apixaban, hm(-28), 30), kOral, hm(20), ask},
    {"clearance unknown is the impaired row", home(Agent::edoxaban, hm(-28), 90, no_creatinine), kOral, hm(20), ask},
    {"dabigatran over 80, 48 h", home(Agent::dabigatran, hm(-28), 85), kOral, hm(20), open},
    {"dabigatran 80, 48 h", home(Agent::dabigatran, hm(-28), 80), kOral, hm(20), ask},
    {"dabigatran 80, 72 h", home(Agent::dabigatran, hm(-52), 80), kOral, hm(20), open},
    {"dabigatran 50, 72 h", home(Agent::dabigatran, hm(-52), 50), kOral, hm(20), ask},
    {"dabigatran 40, 96 h", home(Agent::dabigatran, hm(-76), 40), kOral, hm(20), open},
    {"dabigatran 30, 96 h", home(Agent::dabigatran, hm(-76), 30), kOral, hm(20), ask},
    {"dabigatran 25, 120 h", home(Agent::dabigatran, hm(-100), 25), kOral, hm(20), open},
    {"dabigatran, clearance unknown, 96 h", home(Agent::dabigatran, hm(-76), 85, no_creatinine), kOral, hm(20), ask},
    {"last dose not recorded", [](Bedside& b) { b.home(Agent::apixaban, {}); }, kOral, hm(20), needs},
    {"given here", drug(Agent::apixaban, hm(8), 90), kOral, hm(20), ask},
};

// Heparin off 4 h (3 to 4 h in the older eptifibatide label); stop when platelets are under 100 (label 5.2).
const std::vector<GateRow> kGpRows = {
    {"not given", [](Bedside&) {}, kGp, hm(15), absent},
    {"waits 4 h after heparin, may run on", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(12), {}); }, kGp, hm(15), closed, hm(16, 5)},
    {"open then", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(12), {}); }, kGp, hm(16, 5), open},
    {"platelets 99", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(12), {}), b.lab(Analyte::platelets, 99, hm(15)); }, kGp, hm(16, 5), ask},
    {"platelets 100", [](Bedside& b) { b.infusion(Agent::eptifibatide, hm(12), {}), b.lab(Analyte::platelets, 100, hm(15)); }, kGp, hm(16, 5), open},
    {"heparin not known", [](Bedside& b) { b.facts.administrations.clear(), b.infusion(Agent::abciximab, hm(12), {}); }, kGp, hm(20), needs},
    {"none given, stated", [](Bedside& b) { b.facts.administrations.clear(), b.infusion(Agent::abciximab, hm(12), {}), b.state(StatementKind::no_anticoagulant_given, hm(13)); }, kGp, hm(20), open},
};

class Drug : public testing::TestWithParam<GateRow> {};
TEST_P(Drug, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(GateBivalirudin, Drug, testing::ValuesIn(kBivalirudinRows));
INSTANTIATE_TEST_SUITE_P(GateArgatroban, Drug, testing::ValuesIn(kArgatrobanRows));
INSTANTIATE_TEST_SUITE_P(GateLow, Drug, testing::ValuesIn(kLowRows));
INSTANTIATE_TEST_SUITE_P(GateFondaparinux, Drug, testing::ValuesIn(kFondaparinuxRows));
INSTANTIATE_TEST_SUITE_P(GateOral, Drug, testing::ValuesIn(kOralRows));
INSTANTIATE_TEST_SUITE_P(GateGp, Drug, testing::ValuesIn(kGpRows));

TEST(GateOral, SaysWhichClockEndsTheQuestion) {
  Bedside bed = ready();
  home(Agent::rivaroxaban, hm(-10), 35)(bed);
  const auto gate = bed.gate(kOral, hm(15));
  EXPECT_FALSE(gate->opens_at);
  EXPECT_EQ(gate->clock_ends, hm(38));
  EXPECT_EQ(gate->why.code, "gate.drug.ask-until");
}

TEST(GateLow, EndsWithTheCreatinineItRestsOn) {
  Bedside bed = ready();
  drug(Agent::enoxaparin, hm(7), 90)(bed);
  EXPECT_EQ(bed.gate(kLow, hm(15))->expires_at, hm(80));
  EXPECT_EQ(bed.state_of(kLow, hm(80)), open);
  EXPECT_EQ(bed.state_of(kLow, hm(80, 0, 1)), ask);
  Bedside oral = ready();
  home(Agent::rivaroxaban, hm(-40), 90)(oral);
  EXPECT_EQ(oral.gate(kOral, hm(15))->expires_at, hm(80)) << "within the long hold";
  EXPECT_FALSE(oral.gate(kOral, hm(32))->expires_at) << "open in every row";
}

TEST(GateLow, AsksForWhatTheKidneysLack) {
  Bedside bed = ready();
  drug(Agent::enoxaparin, hm(8), 90, no_creatinine)(bed);
  EXPECT_EQ(bed.gate(kLow, hm(15))->needs, std::vector{Fact::creatinine});
}

}  // namespace
}  // namespace clinical
