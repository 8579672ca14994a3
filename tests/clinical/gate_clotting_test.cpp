// act, aptt and heparin-clock. Limits: eptifibatide US label (older copy), femoral access: ACT < 150 s or aPTT < 45 s; other sources 150 to 180 s and
// 40 to 50 s. Freshness, protamine wait and the 6 h clock are the protocol's own choices.
#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto open = GateState::open, closed = GateState::closed, needs = GateState::needs;
constexpr std::nullopt_t absent = std::nullopt;

void drop(Bedside& bed, Analyte analyte) {
  std::erase_if(bed.facts.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
}
/// ready() with other ACT values.
std::function<void(Bedside&)> acts(std::vector<std::pair<Value, Instant>> values) {
  return [values](Bedside& bed) {
    drop(bed, Analyte::act);
    for (const auto& [value, at] : values) bed.lab(Analyte::act, value, at);
  };
}
void heparin(Bedside& bed, Instant at) { bed.bolus(Agent::heparin, at, 2000); }

const std::vector<GateRow> kActRows = {
    {"fresh and under", [](Bedside&) {}, GateName::act, hm(15, 5), open},
    {"exactly 30 min old is fresh", [](Bedside&) {}, GateName::act, hm(15, 30), open},
    {"1 s later it is not", [](Bedside&) {}, GateName::act, hm(15, 30, 1), needs},
    {"at the limit is over", acts({{amount(150, "s"), hm(15)}}), GateName::act, hm(15, 5), closed},
    {"just under", acts({{amount(149.9, "s"), hm(15)}}), GateName::act, hm(15, 5), open},
    {"over and old asks for a fresh one", acts({{amount(290, "s"), hm(13)}}), GateName::act, hm(15), needs},
    {"none", acts({}), GateName::act, hm(15), needs},
    {"the newest counts, not the good one before", acts({{amount(140, "s"), hm(15)}, {amount(160, "s"), hm(15, 2)}}), GateName::act, hm(15, 5), closed},
    {"two of one instant: the worse", acts({{amount(140, "s"), hm(15)}, {amount(160, "s"), hm(15)}}), GateName::act, hm(15, 5), closed},
    {"a newer result without a value hides it", [](Bedside& b) { b.no_value(Analyte::act, hm(15, 2)); }, GateName::act, hm(15, 5), needs},
    {"one of one instant has no value", [](Bedside& b) { b.no_value(Analyte::act, hm(15)); }, GateName::act, hm(15, 5), needs},
    {"and the other is over", [](Bedside& b) { b.no_value(Analyte::act, hm(15)), b.lab(Analyte::act, amount(160, "s"), hm(15)); }, GateName::act, hm(15, 5), closed},
    {"drawn in the minute of the dose does not clear", [](Bedside& b) { heparin(b, hm(15)); }, GateName::act, hm(15, 5), needs},
    {"same minute, later second", [](Bedside& b) { acts({{amount(140, "s"), hm(15, 0, 50)}})(b), heparin(b, hm(15, 0, 10)); }, GateName::act, hm(15, 5), needs},
    {"the next minute is too soon", [](Bedside& b) { heparin(b, hm(14, 59, 59)); }, GateName::act, hm(15, 5), needs},
    {"a second under five minutes too", [](Bedside& b) { heparin(b, hm(14, 55, 1)); }, GateName::act, hm(15, 5), needs},
    {"five minutes clear", [](Bedside& b) { heparin(b, hm(14, 55)); }, GateName::act, hm(15, 5), open},
    {"a later dose needs a later draw", [](Bedside& b) { heparin(b, hm(15, 2)); }, GateName::act, hm(15, 5), needs},
    {"a flush resets nothing", [](Bedside& b) { heparin(b, hm(15, 2)), b.facts.administrations.back().flush = true; }, GateName::act, hm(15, 5), open},
    {"heparin running", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), {}); }, GateName::act, hm(15, 5), closed},
    {"on hold is running", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), hm(14, 10)).status = AdministrationStatus::on_hold; }, GateName::act, hm(15, 5), closed},
    {"stopped at an unknown time", [](Bedside& b) { b.infusion(Agent::heparin, hm(14), {}).status = AdministrationStatus::completed; }, GateName::act, hm(15, 5), needs},
    {"dose known by its date only", [](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(12)); a.start = a.end = Moment{hm(0), hm(23, 59, 59)}; }, GateName::act, hm(15, 5), needs},
    {"dose at no time", [](Bedside& b) { auto& a = b.bolus(Agent::heparin, hm(12)); a.start.reset(), a.end.reset(); }, GateName::act, hm(15, 5), needs},
    {"an upper bound under the limit", acts({{compared(Comparator::less, 150, "s"), hm(15)}}), GateName::act, hm(15, 5), open},
    {"at most the limit is not surely under", acts({{compared(Comparator::at_most, 150, "s"), hm(15)}}), GateName::act, hm(15, 5), needs},
    {"< 200 says nothing of 150", acts({{compared(Comparator::less, 200, "s"), hm(15)}}), GateName::act, hm(15, 5), needs},
    {"> 400", acts({{compared(Comparator::greater, 400, "s"), hm(15)}}), GateName::act, hm(15, 5), closed},
    {"> 100 is not known to be under", acts({{compared(Comparator::greater, 100, "s"), hm(15)}}), GateName::act, hm(15, 5), needs},
    {"9 min 59 s after protamine", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 50, 1)); }, GateName::act, hm(15, 5), needs},
    {"10 min after protamine", [](Bedside& b) { b.bolus(Agent::protamine, hm(14, 50)); }, GateName::act, hm(15, 5), open},
    {"reversal given is not cleared", [](Bedside& b) { b.bolus(Agent::protamine, hm(15, 3)); }, GateName::act, hm(15, 20), needs},
    {"not yet drawn at this instant", [](Bedside&) {}, GateName::act, hm(14, 59), needs},
    {"a fresh aPTT opens act too", [](Bedside& b) { acts({})(b), b.lab(Analyte::aptt, 44, hm(15)); }, GateName::act, hm(16), open},
    {"an aPTT 60 min and 1 s old does not", [](Bedside& b) { acts({})(b), b.lab(Analyte::aptt, 44, hm(15)); }, GateName::act, hm(16, 0, 1), needs},
    {"but not beside a fresh ACT over", [](Bedside& b) { acts({{amount(155, "s"), hm(15)}})(b), b.lab(Analyte::aptt, 30, hm(15)); }, GateName::act, hm(15, 5), closed},
    {"an old ACT over does not hold it", [](Bedside& b) { acts({{amount(155, "s"), hm(14)}})(b), b.lab(Analyte::aptt, 30, hm(15)); }, GateName::act, hm(15, 5), open},
};
class Act : public testing::TestWithParam<GateRow> {};
TEST_P(Act, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(Gate, Act, testing::ValuesIn(kActRows));

const std::vector<GateRow> kApttRows = {
    {"none drawn", [](Bedside&) {}, GateName::aptt, hm(15, 5), absent},
    {"drawn before the dose", [](Bedside& b) { b.lab(Analyte::aptt, 80, hm(11)); }, GateName::aptt, hm(15, 5), absent},
    {"at the limit", [](Bedside& b) { b.lab(Analyte::aptt, 45, hm(15)); }, GateName::aptt, hm(15, 5), closed},
    {"under", [](Bedside& b) { b.lab(Analyte::aptt, 44.9, hm(15)); }, GateName::aptt, hm(15, 5), open},
    {"over stays closed when old", [](Bedside& b) { b.lab(Analyte::aptt, 60, hm(13)); }, GateName::aptt, hm(15, 5), closed},
    {"old and under, act open by an ACT", [](Bedside& b) { b.lab(Analyte::aptt, 40, hm(13)); }, GateName::aptt, hm(15, 5), absent},
    {"old and under, no ACT", [](Bedside& b) { acts({})(b), b.lab(Analyte::aptt, 40, hm(13)); }, GateName::aptt, hm(15, 5), needs},
    {"no heparin: it measures nothing on board", [](Bedside& b) { b.facts.administrations.clear(), b.lab(Analyte::aptt, 60, hm(15)); }, GateName::aptt, hm(15, 5), absent},
};
class Aptt : public testing::TestWithParam<GateRow> {};
TEST_P(Aptt, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(Gate, Aptt, testing::ValuesIn(kApttRows));

void no_tests(Bedside& b) { acts({})(b), b.state(StatementKind::coagulation_test_unavailable, hm(14)); }

const std::vector<GateRow> kHeparinClockRows = {
    {"not when values are only missing", acts({}), GateName::heparin_clock, hm(15), absent},
    {"6 h after the stop", no_tests, GateName::heparin_clock, hm(15), closed, hm(18, 5)},
    {"at 6 h", no_tests, GateName::heparin_clock, hm(18, 5), open},
    {"act is left out", no_tests, GateName::act, hm(15), absent},
    {"running", [](Bedside& b) { no_tests(b), b.infusion(Agent::heparin, hm(13), {}); }, GateName::heparin_clock, hm(23), closed},
    {"stop not recorded", [](Bedside& b) { no_tests(b), b.infusion(Agent::heparin, hm(13), {}).status = AdministrationStatus::completed; }, GateName::heparin_clock, hm(23), needs},
    {"a later test ends the statement", [](Bedside& b) { no_tests(b), b.lab(Analyte::act, 140, hm(14, 30)); }, GateName::heparin_clock, hm(15), absent},
    {"then act is back", [](Bedside& b) { no_tests(b), b.lab(Analyte::act, 140, hm(14, 30)); }, GateName::act, hm(15), open},
    {"a value over the limit overrides, whatever its age", [](Bedside& b) { no_tests(b), b.lab(Analyte::act, 260, hm(13)); }, GateName::heparin_clock, hm(20), closed},
    {"and closes its own gate", [](Bedside& b) { no_tests(b), b.lab(Analyte::act, 260, hm(13)); }, GateName::act, hm(20), closed},
    {"an aPTT too", [](Bedside& b) { no_tests(b), b.lab(Analyte::aptt, 60, hm(13)); }, GateName::aptt, hm(20), closed},
    {"a value before the last dose does not", [](Bedside& b) { no_tests(b), b.lab(Analyte::act, 260, hm(12, 2)); }, GateName::heparin_clock, hm(20), open},
    {"undated statement", [](Bedside& b) { no_tests(b), b.facts.statements.back().at.reset(); }, GateName::heparin_clock, hm(20), absent},
};
class HeparinClock : public testing::TestWithParam<GateRow> {};
TEST_P(HeparinClock, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(Gate, HeparinClock, testing::ValuesIn(kHeparinClockRows));

TEST(GateAct, HeparinAtHomeCountsToo) {
  Bedside bed = ready();
  bed.facts.administrations.clear();
  bed.facts.home_lists.clear();
  bed.home(Agent::heparin, {});
  EXPECT_EQ(bed.state_of(GateName::act, hm(15, 5)), needs);
  bed.facts.home_drugs.front().last_dose = exactly(hm(7));
  EXPECT_EQ(bed.state_of(GateName::act, hm(15, 5)), open);
}

TEST(GateAct, AsksForTheAnalyserWithoutHoldingTheGate) {
  Bedside bed = ready();
  for (auto& m : bed.facts.measurements) m.analyser.clear();
  const auto gate = bed.gate(GateName::act, hm(15, 5));
  EXPECT_EQ(gate->state, open);
  EXPECT_EQ(gate->needs, std::vector{Fact::analyser});
}

TEST(GateAct, AsksForARepeatAnHourAfterProtamineWithoutHoldingTheGate) {
  Bedside bed = ready();
  bed.bolus(Agent::protamine, hm(14, 30));
  EXPECT_TRUE(bed.gate(GateName::act, hm(15, 29, 59))->needs.empty());
  EXPECT_EQ(bed.gate(GateName::act, hm(15, 30))->needs, std::vector{Fact::act});
  EXPECT_EQ(bed.gate(GateName::act, hm(15, 30))->state, open);
  EXPECT_EQ(bed.gate(GateName::act, hm(15, 29))->why.code, "gate.act.open-repeat");
}

// The 10 min are this protocol's own choice: until then no draw counts, whatever was drawn before the protamine.
TEST(GateAct, WaitsForTheProtamineWhateverWasDrawnBefore) {
  for (const double before : {140.0, 340.0}) {
    Bedside bed = bare();
    bed.bolus(Agent::heparin, hm(12, 5));
    bed.lab(Analyte::act, before, hm(14));
    bed.bolus(Agent::protamine, hm(14, 55));
    EXPECT_EQ(bed.gate(GateName::act, hm(15))->clock_ends, hm(15, 5)) << before;
    EXPECT_FALSE(bed.gate(GateName::act, hm(15, 5))->clock_ends) << before;
  }
}

TEST(GateAct, SaysHowLongTheValueIsFreshAndSinceWhenTheGateIsOpen) {
  const auto gate = ready().gate(GateName::act, hm(15, 10));
  EXPECT_EQ(gate->expires_at, hm(15, 30));
  EXPECT_EQ(gate->since, hm(15));
  EXPECT_FALSE(gate->opens_at);
}

}  // namespace
}  // namespace clinical
