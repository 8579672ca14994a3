// platelets, warfarin-inr, fibrinolytic, haemoglobin.
// INR 1.5 to 1.8 and platelets 50: SIR consensus 2019 part II, J Vasc Interv Radiol 2019;30:1168. Platelets 2 to 6 h after a GP IIb/IIIa
// inhibitor: tirofiban label. Fibrinogen 1.5 g/L and 24 h: practice, from memory. Reteplase 48 h: manufacturer's information. Haemoglobin: common practice.
#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto open = GateState::open, closed = GateState::closed, needs = GateState::needs, ask = GateState::ask;
constexpr std::nullopt_t absent = std::nullopt;
constexpr auto kPlatelets = GateName::platelets, kInr = GateName::warfarin_inr, kLysis = GateName::fibrinolytic, kHb = GateName::haemoglobin;

std::function<void(Bedside&)> value(Analyte analyte, double number, Instant at = hm(15)) {
  return [=](Bedside& bed) { bed.lab(analyte, number, at); };
}
void only_haemoglobin(Bedside& bed, std::initializer_list<std::pair<double, Instant>> values) {
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::haemoglobin; });
  for (const auto& [number, at] : values) bed.lab(Analyte::haemoglobin, number, at);
}
void tirofiban(Bedside& b, Instant from) { b.infusion(Agent::tirofiban, from, {}); }
void warfarin(Bedside& b) { b.facts.home_lists.clear(), b.home(Agent::warfarin, exactly(hm(-6))); }
void lysis(Bedside& b, Agent agent, Instant end) { b.infusion(agent, end - hours{1}, end); }

const std::vector<GateRow> kPlateletRows = {
    {"49", value(Analyte::platelets, 49), kPlatelets, hm(15, 5), closed},
    {"50", value(Analyte::platelets, 50), kPlatelets, hm(15, 5), open},
    {"24 h old", [](Bedside&) {}, kPlatelets, hm(32), open},
    {"1 s older", [](Bedside&) {}, kPlatelets, hm(32, 0, 1), needs},
    {"low and old is asked for again", value(Analyte::platelets, 40, hm(9)), kPlatelets, hm(34), needs},
    {"drawn before the inhibitor", [](Bedside& b) { tirofiban(b, hm(12)); }, kPlatelets, hm(15, 5), needs},
    {"1 h 59 min after its start", [](Bedside& b) { tirofiban(b, hm(12)), b.lab(Analyte::platelets, 200, hm(13, 59)); }, kPlatelets, hm(15, 5), needs},
    {"2 h after its start", [](Bedside& b) { tirofiban(b, hm(12)), b.lab(Analyte::platelets, 200, hm(14)); }, kPlatelets, hm(15, 5), open},
    {"6 h old with it", [](Bedside& b) { tirofiban(b, hm(12)), b.lab(Analyte::platelets, 200, hm(14)); }, kPlatelets, hm(20), open},
    {"1 s older with it", [](Bedside& b) { tirofiban(b, hm(12)), b.lab(Analyte::platelets, 200, hm(14)); }, kPlatelets, hm(20, 0, 1), needs},
    {"low before the 2 h closes all the same", [](Bedside& b) { tirofiban(b, hm(14)), b.lab(Analyte::platelets, 30, hm(15)); }, kPlatelets, hm(15, 5), closed},
    {"< 60 may be anything", [](Bedside& b) { b.lab(Analyte::platelets, compared(Comparator::less, 60), hm(15)); }, kPlatelets, hm(15, 5), needs},
};

const std::vector<GateRow> kInrRows = {
    {"not demanded, none on file", [](Bedside&) {}, kInr, hm(15, 5), absent},
    {"1.5", value(Analyte::inr, 1.5), kInr, hm(15, 5), open},
    {"1.51", value(Analyte::inr, 1.51), kInr, hm(15, 5), ask},
    {"1.8", value(Analyte::inr, 1.8), kInr, hm(15, 5), ask},
    {"1.81", value(Analyte::inr, 1.81), kInr, hm(15, 5), closed},
    {"on file, old and low: counts", value(Analyte::inr, 1.2, hm(-40)), kInr, hm(15, 5), open},
    {"on file, old and over 1.5", value(Analyte::inr, 1.6, hm(-40)), kInr, hm(15, 5), needs},
    {"home drugs unknown, none on file", [](Bedside& b) { b.facts.home_lists.clear(); }, kInr, hm(15, 5), needs},
    {"home drugs unknown, 24 h old", [](Bedside& b) { b.facts.home_lists.clear(), b.lab(Analyte::inr, 1.2, hm(-9)); }, kInr, hm(15), open},
    {"home drugs unknown, 1 s older", [](Bedside& b) { b.facts.home_lists.clear(), b.lab(Analyte::inr, 1.2, hm(-9)); }, kInr, hm(15, 0, 1), needs},
    {"warfarin, none on file", warfarin, kInr, hm(15, 5), needs},
    {"warfarin, 6 h old", [](Bedside& b) { warfarin(b), b.lab(Analyte::inr, 1.4, hm(9)); }, kInr, hm(15), open},
    {"warfarin, 1 s older", [](Bedside& b) { warfarin(b), b.lab(Analyte::inr, 1.4, hm(9)); }, kInr, hm(15, 0, 1), needs},
    {"warfarin given here after the INR", [](Bedside& b) { b.bolus(Agent::warfarin, hm(14), 0), b.lab(Analyte::inr, 1.4, hm(13)); }, kInr, hm(15), needs},
    {"warfarin, last dose not recorded", [](Bedside& b) { b.facts.home_lists.clear(), b.home(Agent::warfarin, {}), b.lab(Analyte::inr, 1.4, hm(14)); }, kInr, hm(15), needs},
    {"reversal given is not cleared", [](Bedside& b) { warfarin(b), b.lab(Analyte::inr, 1.4, hm(13)), b.bolus(Agent::prothrombin_complex, hm(14)); }, kInr, hm(15), needs},
    {"vitamin K, then an INR", [](Bedside& b) { warfarin(b), b.bolus(Agent::vitamin_k, hm(10)), b.lab(Analyte::inr, 1.4, hm(14)); }, kInr, hm(15), open},
    {"the newest has no value", [](Bedside& b) { b.lab(Analyte::inr, 1.1, hm(10)), b.no_value(Analyte::inr, hm(14)); }, kInr, hm(15), needs},
};

const std::vector<GateRow> kLysisRows = {
    {"running", [](Bedside& b) { b.infusion(Agent::alteplase, hm(11), {}); }, kLysis, hm(15), closed},
    {"no fibrinogen after it", [](Bedside& b) { lysis(b, Agent::alteplase, hm(11)), b.lab(Analyte::fibrinogen, 2.5, hm(10)); }, kLysis, hm(15), needs},
    {"good, within 24 h: ask as well", [](Bedside& b) { lysis(b, Agent::alteplase, hm(11)), b.lab(Analyte::fibrinogen, 2.5, hm(14)); }, kLysis, hm(15), ask},
    {"1.49 g/L", [](Bedside& b) { lysis(b, Agent::alteplase, hm(11)), b.lab(Analyte::fibrinogen, 1.49, hm(14)); }, kLysis, hm(15), closed},
    {"1.5 g/L, 24 h after", [](Bedside& b) { lysis(b, Agent::alteplase, hm(-9)), b.lab(Analyte::fibrinogen, 1.5, hm(14)); }, kLysis, hm(15), open},
    {"6 h old", [](Bedside& b) { lysis(b, Agent::alteplase, hm(-9)), b.lab(Analyte::fibrinogen, 1.5, hm(9)); }, kLysis, hm(15), open},
    {"1 s older", [](Bedside& b) { lysis(b, Agent::alteplase, hm(-9)), b.lab(Analyte::fibrinogen, 1.5, hm(9)); }, kLysis, hm(15, 0, 1), needs},
    {"reteplase asks to 48 h", [](Bedside& b) { lysis(b, Agent::reteplase, hm(-9)), b.lab(Analyte::fibrinogen, 1.5, hm(14)); }, kLysis, hm(15), ask},
    {"and no longer", [](Bedside& b) { lysis(b, Agent::reteplase, hm(-33)), b.lab(Analyte::fibrinogen, 1.5, hm(14)); }, kLysis, hm(15), open},
};

const std::vector<GateRow> kHaemoglobinRows = {
    {"no fall", [](Bedside&) {}, kHb, hm(15, 5), open},
    {"7.9", [](Bedside& b) { only_haemoglobin(b, {{7.9, hm(14)}}); }, kHb, hm(15, 5), ask},
    {"8.0 alone", [](Bedside& b) { only_haemoglobin(b, {{8.0, hm(14)}}); }, kHb, hm(15, 5), open},
    {"a fall of 1.9", [](Bedside& b) { only_haemoglobin(b, {{13.9, hm(8)}, {12.0, hm(14)}}); }, kHb, hm(15, 5), open},
    {"a fall of 2.0", [](Bedside& b) { only_haemoglobin(b, {{14.0, hm(8)}, {12.0, hm(14)}}); }, kHb, hm(15, 5), ask},
    {"from the highest of 7 days", [](Bedside& b) { only_haemoglobin(b, {{14.0, hm(12 - 168)}, {12.5, hm(8)}, {12.0, hm(14)}}); }, kHb, hm(15, 5), ask},
    {"not from before", [](Bedside& b) { only_haemoglobin(b, {{14.0, hm(12 - 168, 0, -1)}, {12.5, hm(8)}, {12.0, hm(14)}}); }, kHb, hm(15, 5), open},
    {"24 h old", [](Bedside&) {}, kHb, hm(38), open},
    {"1 s older", [](Bedside&) {}, kHb, hm(38, 0, 1), needs},
    {"older than a sign of bleeding", [](Bedside& b) { b.site().checks.front().bleeding = Bleeding::bleeding; }, kHb, hm(15, 5), needs},
    {"newer than it", [](Bedside& b) { b.site().checks.front().bleeding = Bleeding::bleeding, b.lab(Analyte::haemoglobin, 13, hm(15, 4)); }, kHb, hm(15, 5), open},
    {"a fall is a fall, whichever test gave it", [](Bedside& b) { only_haemoglobin(b, {{14.0, hm(8)}, {12.0, hm(14)}}), b.facts.measurements.back().test_code = "point of care"; }, kHb, hm(15, 5), ask},
};

class Blood : public testing::TestWithParam<GateRow> {};
TEST_P(Blood, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(GatePlatelets, Blood, testing::ValuesIn(kPlateletRows));
INSTANTIATE_TEST_SUITE_P(GateInr, Blood, testing::ValuesIn(kInrRows));
INSTANTIATE_TEST_SUITE_P(GateFibrinolytic, Blood, testing::ValuesIn(kLysisRows));
INSTANTIATE_TEST_SUITE_P(GateHaemoglobin, Blood, testing::ValuesIn(kHaemoglobinRows));

TEST(GateHaemoglobin, AsksForASecondValueWithoutHoldingTheGate) {
  Bedside bed = ready();
  only_haemoglobin(bed, {{13, hm(14)}});
  const auto gate = bed.gate(kHb, hm(15, 5));
  EXPECT_EQ(gate->state, open);
  EXPECT_EQ(gate->why.code, "gate.haemoglobin.one-value");
  EXPECT_EQ(gate->needs, std::vector{Fact::haemoglobin});
}

TEST(GateHaemoglobin, OfAValueKnownByItsDayTheSentenceHasTheDay) {
  Bedside bed = ready();
  only_haemoglobin(bed, {{13, hm(14)}});
  const Moment day{hm(0), hm(23, 59, 59)};
  bed.facts.measurements.back().at = day;
  const auto gate = bed.gate(kHb, hm(15, 5));
  EXPECT_EQ(gate->why.arguments[1], (std::pair<std::string, Argument>{"drawn", day}));
  bed.facts.measurements.back().at = exactly(hm(14));
  EXPECT_EQ(bed.gate(kHb, hm(15, 5))->why.arguments[1], (std::pair<std::string, Argument>{"drawn", hm(14)}));
}

}  // namespace
}  // namespace clinical
