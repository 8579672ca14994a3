// A clinician's answer to a question: 60 min (the protocol's own choice), the value quoted, void when it gets worse, never for another gate.
#include "clinical/decision.h"

#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto kPressure = GateName::blood_pressure, kInr = GateName::warfarin_inr;

Bedside with_inr(double inr) {
  Bedside bed = ready();
  bed.lab(Analyte::inr, inr, hm(14));
  return bed;
}

TEST(Decision, OpensWhatItAnswersForAnHourInclusive) {
  Bedside bed = with_inr(1.7);
  EXPECT_EQ(bed.state_of(kInr, hm(15)), GateState::ask);
  bed.decide(kInr, "1.7", hm(15));
  const auto gate = bed.gate(kInr, hm(15, 30));
  EXPECT_EQ(gate->state, GateState::open);
  EXPECT_EQ(bed.gate(kInr, hm(15, 10))->since, hm(15)) << "every other gate is open too";
  EXPECT_EQ(gate->expires_at, hm(16));
  EXPECT_EQ(bed.state_of(kInr, hm(14, 59, 59)), GateState::ask) << "not yet made";
  EXPECT_EQ(bed.state_of(kInr, hm(16)), GateState::open);
  EXPECT_EQ(bed.state_of(kInr, hm(16, 0, 1)), GateState::ask);
}

TEST(Decision, CountsOnlyAsRecordedInFull) {
  const struct {
    const char* name;
    std::function<void(Decision&)> spoil;
  } rows[] = {{"another value", [](Decision& d) { d.value_seen = "1.6"; }},
              {"no value", [](Decision& d) { d.value_seen = ""; }},
              {"another gate", [](Decision& d) { d.subject = "act"; }},
              {"nobody", [](Decision& d) { d.performer.clear(); }},
              {"no time", [](Decision& d) { d.at.reset(); }},
              {"a day only", [](Decision& d) { d.at = Moment{hm(0), hm(23, 59, 59)}; }},
              {"made before the value was drawn", [](Decision& d) { d.at = exactly(hm(13, 59)); }}};
  for (const auto& row : rows) {
    Bedside bed = with_inr(1.7);
    row.spoil(bed.decide(kInr, "1.7", hm(14, 30)));
    EXPECT_EQ(bed.state_of(kInr, hm(14, 50)), GateState::ask) << row.name;
  }
}

TEST(Decision, EndsWithAWorseValueForGood) {
  Bedside bed = with_inr(1.7);
  bed.decide(kInr, "1.7", hm(15));
  bed.lab(Analyte::inr, 1.8, hm(15, 10));
  EXPECT_EQ(bed.state_of(kInr, hm(15, 5)), GateState::open);
  EXPECT_EQ(bed.state_of(kInr, hm(15, 20)), GateState::ask);
  bed.lab(Analyte::inr, 1.7, hm(15, 20));
  EXPECT_EQ(bed.state_of(kInr, hm(15, 30)), GateState::ask) << "void is void";
}

TEST(Decision, OutlastsABetterValue) {
  Bedside bed = with_inr(1.7);
  bed.decide(kInr, "1.7", hm(15));
  bed.lab(Analyte::inr, 1.6, hm(15, 10));
  EXPECT_EQ(bed.state_of(kInr, hm(15, 20)), GateState::open);
}

TEST(Decision, NeverOpensAClosedGate) {
  Bedside bed = with_inr(1.9);
  bed.decide(kInr, "1.9", hm(15));
  EXPECT_EQ(bed.state_of(kInr, hm(15, 5)), GateState::closed);
}

TEST(Decision, WaitsOutAStalePressureAndHoldsForTheNextNoWorse) {
  Bedside bed = ready();
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::systolic || m.analyte == Analyte::diastolic; });
  bed.pressure(154, 80, hm(15));
  bed.decide(kPressure, "154 mmHg", hm(15, 2));
  EXPECT_EQ(bed.state_of(kPressure, hm(15, 10)), GateState::open);
  EXPECT_EQ(bed.gate(kPressure, hm(15, 10))->expires_at, hm(15, 15)) << "the value it rests on";
  EXPECT_EQ(bed.state_of(kPressure, hm(15, 20)), GateState::needs);
  bed.pressure(152, 80, hm(15, 21));
  EXPECT_EQ(bed.state_of(kPressure, hm(15, 22)), GateState::open);
  bed.pressure(156, 80, hm(15, 30));
  EXPECT_EQ(bed.state_of(kPressure, hm(15, 31)), GateState::ask);
}

TEST(Decision, WithoutAValueHoldsWhileTheReasonStaysTheSame) {
  Bedside bed = ready();
  bed.facts.administrations.clear();
  bed.bolus(Agent::heparin, hm(11));
  bed.bolus(Agent::enoxaparin, hm(8));
  bed.risk(RiskKind::dialysis);
  bed.decide(GateName::low_molecular_weight_heparin, "", hm(15));
  EXPECT_EQ(bed.state_of(GateName::low_molecular_weight_heparin, hm(15, 10)), GateState::open);
  bed.bolus(Agent::enoxaparin, hm(15, 20));
  EXPECT_EQ(bed.state_of(GateName::low_molecular_weight_heparin, hm(15, 30)), GateState::ask);
}

TEST(Decision, ANoOpensNothingAndEndsWhatWasDecidedBeforeIt) {
  Bedside bed = with_inr(1.7);
  bed.decide(kInr, "1.7", hm(15)).refused = true;
  EXPECT_EQ(bed.state_of(kInr, hm(15, 5)), GateState::ask);
  bed.decide(kInr, "1.7", hm(15, 10));
  EXPECT_EQ(bed.state_of(kInr, hm(15, 15)), GateState::open) << "decided anew";
  bed.decide(kInr, "", hm(15, 20)).refused = true;
  EXPECT_EQ(bed.state_of(kInr, hm(15, 19)), GateState::open);
  EXPECT_EQ(bed.state_of(kInr, hm(15, 20)), GateState::ask);
  bed.facts.decisions.back().subject = "act";
  EXPECT_EQ(bed.state_of(kInr, hm(15, 30)), GateState::open) << "a no to something else";
  bed.facts.decisions.back().subject = bed.facts.decisions.front().subject;
  bed.facts.decisions.back().at.reset();
  EXPECT_EQ(bed.state_of(kInr, hm(15, 30)), GateState::ask) << "nobody knows when";
}

// The model: a decision is void on any worse value. Where it quotes none nothing tells what the clinician knew.
TEST(Decision, WithoutAValueEndsWithAChangeOfWhatTheGateRestsOn) {
  Bedside bed = ready();
  bed.facts.administrations.clear();
  bed.bolus(Agent::heparin, hm(11));
  const auto dose = bed.bolus(Agent::enoxaparin, hm(8)).source.reference;
  bed.risk(RiskKind::dialysis);
  bed.decide(GateName::low_molecular_weight_heparin, "", hm(15)).changed_since = {{"MedicationAdministration/other", hm(15, 10)}};
  const auto state = [&](Instant now) { return bed.state_of(GateName::low_molecular_weight_heparin, now); };
  EXPECT_EQ(state(hm(15, 20)), GateState::open) << "another fact";
  bed.facts.decisions.back().changed_since.push_back({dose, hm(15, 10)});
  EXPECT_EQ(state(hm(15, 9)), GateState::open);
  EXPECT_EQ(state(hm(15, 10)), GateState::ask);
  Bedside valued = with_inr(1.7);
  valued.decide(kInr, "1.7", hm(15)).changed_since = {{valued.facts.measurements.back().source.reference, hm(15, 10)}};
  EXPECT_EQ(valued.state_of(kInr, hm(15, 20)), GateState::open) << "the value that was quoted still stands";
}

TEST(Quotes, NumbersMatchWithOrWithoutTheUnit) {
  EXPECT_TRUE(quotes("154", "154 mmHg"));
  EXPECT_TRUE(quotes("154 mmHg", "154mmHg"));
  EXPECT_TRUE(quotes("1.70", "1.7"));
  EXPECT_FALSE(quotes("154 kPa", "154 mmHg"));
  EXPECT_FALSE(quotes("155", "154 mmHg"));
  EXPECT_FALSE(quotes("", "154"));
  EXPECT_FALSE(quotes("<154", "154"));
}

}  // namespace
}  // namespace clinical
