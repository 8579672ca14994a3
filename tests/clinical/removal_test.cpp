// When the sheath may come out, from its gates.
#include "gate_support.h"

namespace clinical {
namespace {

TEST(RemovalAt, DueSinceTheLastGateOpened) {
  const auto removal = ready().removal(hm(15, 5));
  EXPECT_EQ(removal.status, StepStatus::due) << told(ready().gates(hm(15, 5)));
  EXPECT_EQ(removal.earliest, hm(15));
  EXPECT_FALSE(removal.expected);
  EXPECT_EQ(removal.why.code, "removal.due");
}

TEST(RemovalAt, ANewGoodValueDoesNotMoveItLater) {
  Bedside bed = ready();
  bed.check(hm(15, 10));
  bed.pressure(128, 70, hm(15, 10));
  bed.lab(Analyte::heart_rate, 72, hm(15, 10));
  bed.lab(Analyte::act, amount(138, "s"), hm(15, 10));
  EXPECT_EQ(bed.removal(hm(15, 12)).earliest, hm(15));
}

TEST(RemovalAt, AGapInFreshnessStartsAnew) {
  Bedside bed = ready();
  bed.lab(Analyte::act, amount(138, "s"), hm(15, 40));
  bed.check(hm(15, 41));
  bed.pressure(128, 70, hm(15, 41));
  bed.lab(Analyte::heart_rate, 72, hm(15, 41));
  EXPECT_EQ(bed.removal(hm(15, 35)).status, StepStatus::blocked);
  EXPECT_EQ(bed.removal(hm(15, 45)).earliest, hm(15, 41));
}

TEST(RemovalAt, ClocksAloneWithValuesStillFreshThen) {
  Bedside bed = ready();
  bed.bolus(Agent::enoxaparin, hm(7, 10));  // 8 h: 15:10
  const auto removal = bed.removal(hm(15, 5));
  EXPECT_EQ(removal.status, StepStatus::expected) << told(bed.gates(hm(15, 5)));
  EXPECT_EQ(removal.earliest, hm(15, 10));
  EXPECT_EQ(removal.why.code, "removal.clock");
  EXPECT_EQ(bed.removal(hm(15, 10)).status, StepStatus::due);
  EXPECT_EQ(bed.removal(hm(15, 10)).earliest, hm(15, 10));
}

TEST(RemovalAt, ClocksThatOutlastTheValues) {
  Bedside bed = ready();
  bed.bolus(Agent::enoxaparin, hm(7, 16));  // 8 h: 15:16, the pressure of 15:00 is then 1 min too old
  const auto removal = bed.removal(hm(15, 5));
  EXPECT_EQ(removal.status, StepStatus::blocked);
  EXPECT_FALSE(removal.earliest);
  EXPECT_EQ(removal.expected, hm(15, 16));
  EXPECT_EQ(removal.why.code, "removal.not-before-fresh");
}

TEST(RemovalAt, ARecordedFutureFactIsNotForeseen) {
  Bedside bed = ready();
  bed.bolus(Agent::enoxaparin, hm(7, 16));
  bed.pressure(128, 70, hm(15, 14));
  bed.check(hm(15, 14));
  bed.lab(Analyte::heart_rate, 72, hm(15, 14));
  EXPECT_FALSE(bed.removal(hm(15, 5)).earliest);
}

TEST(RemovalAt, WaitsForTheActAtTheHalfCrossing) {
  Bedside bed = ready();
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::act; });
  bed.lab(Analyte::act, amount(290, "s"), hm(13));
  auto removal = bed.removal(hm(15, 5));
  EXPECT_EQ(removal.status, StepStatus::blocked);
  EXPECT_FALSE(removal.earliest);
  EXPECT_EQ(removal.expected, hm(17, 30));
  bed.bolus(Agent::enoxaparin, hm(11));  // 19:00
  EXPECT_EQ(bed.removal(hm(15, 5)).expected, hm(19));
  EXPECT_FALSE(bed.removal(hm(19, 30)).expected) << "the past is no expectation";
}

TEST(RemovalAt, NothingToExpectWithoutAClock) {
  Bedside bed = ready();
  bed.site().french = {};
  const auto removal = bed.removal(hm(15, 5));
  EXPECT_EQ(removal.status, StepStatus::blocked);
  EXPECT_FALSE(removal.earliest || removal.expected);
  EXPECT_EQ(removal.why.code, "removal.blocked");
}

TEST(RemovalAt, TheClockOfAQuestionIsExpectedNeverEarliest) {
  Bedside bed = ready();
  bed.facts.home_lists.clear();
  bed.home(Agent::apixaban, exactly(hm(-30)));  // 48 h: 18:00
  const auto removal = bed.removal(hm(15, 5));
  EXPECT_FALSE(removal.earliest);
  EXPECT_EQ(removal.expected, hm(18));
}

// Heparin last at 12:00, ACT now 148 s, eptifibatide running, enoxaparin 1 mg/kg subcutaneously at 08:00, clearance 90, 15:30. Ranges of the
// labels and guidelines: heparin off 3-4 h (eptifibatide label), 6-8 h after enoxaparin (ACC/AHA): at the cautious ends the latest is 16:00.
TEST(RemovalAt, FourDrugsTogether) {
  Bedside bed = ready();
  bed.facts.administrations.clear();
  bed.facts.start = hm(11, 50);
  bed.bolus(Agent::heparin, hm(12));
  bed.infusion(Agent::eptifibatide, hm(12), {});
  bed.bolus(Agent::enoxaparin, hm(8)).route = Route::subcutaneous;
  bed.lab(Analyte::act, amount(148, "s"), hm(15, 30));
  bed.lab(Analyte::platelets, 190, hm(14, 30));
  bed.lab(Analyte::creatinine, 0.88, hm(9));
  bed.check(hm(15, 30));
  bed.pressure(130, 70, hm(15, 30));
  bed.lab(Analyte::heart_rate, 70, hm(15, 30));
  const Instant now = hm(15, 30);
  EXPECT_EQ(bed.state_of(GateName::act, now), GateState::open);
  EXPECT_EQ(bed.gate(GateName::gp_inhibitor, now)->opens_at, hm(16));
  EXPECT_EQ(bed.gate(GateName::low_molecular_weight_heparin, now)->opens_at, hm(16));
  const auto removal = bed.removal(now);
  EXPECT_EQ(removal.expected, hm(16));
  EXPECT_FALSE(removal.earliest) << "the check of 15:30 is too old at 16:00";
  EXPECT_EQ(removal.why.code, "removal.not-before-fresh");
}

}  // namespace
}  // namespace clinical
