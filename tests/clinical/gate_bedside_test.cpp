// access, site-status, blood-pressure, heart-rate: limits inclusive as written, freshness to the second.
// Systolic < 160: Nordrehaug, J Interv Cardiol 1996;9:381. The other limits are common practice or the protocol's own choice.
#include "gate_support.h"

namespace clinical {
namespace {

constexpr auto open = GateState::open, closed = GateState::closed, needs = GateState::needs, ask = GateState::ask;
constexpr auto kAccess = GateName::access, kSite = GateName::site_status, kPressure = GateName::blood_pressure, kRate = GateName::heart_rate;

SiteCheck& first(Bedside& b) { return b.site().checks.front(); }
void drop_pressures(Bedside& bed) {
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::systolic || m.analyte == Analyte::diastolic; });
}
struct Reading {
  double systolic, diastolic;
  Instant at;
};
std::function<void(Bedside&)> pressures(std::vector<Reading> readings) {
  return [readings](Bedside& bed) {
    drop_pressures(bed);
    for (const auto& r : readings) bed.pressure(r.systolic, r.diastolic, r.at);
  };
}
std::function<void(Bedside&)> rate(double value) {
  return [value](Bedside& bed) { bed.lab(Analyte::heart_rate, value, hm(15, 1)); };
}

const std::vector<GateRow> kAccessRows = {
    {"all recorded", [](Bedside&) {}, kAccess, hm(15, 5), open},
    {"size not recorded", [](Bedside& b) { b.site().french = {}; }, kAccess, hm(15, 5), needs},
    {"size known only from free text", [](Bedside& b) { b.site().french.certainty = Certainty::low; }, kAccess, hm(15, 5), needs},
    {"two sizes", [](Bedside& b) { b.site().french.certainty = Certainty::contradicted; }, kAccess, hm(15, 5), needs},
    {"side from text will do", [](Bedside& b) { b.site().side.certainty = Certainty::low; }, kAccess, hm(15, 5), open},
    {"side contradicted", [](Bedside& b) { b.site().side.certainty = Certainty::contradicted; }, kAccess, hm(15, 5), needs},
    {"vessel not recorded", [](Bedside& b) { b.site().vessel = {}; }, kAccess, hm(15, 5), needs},
    {"closure not recorded", [](Bedside& b) { b.site().closure = {}; }, kAccess, hm(15, 5), needs},
    {"a graft on this side", [](Bedside& b) { b.risk(RiskKind::graft).side = Side::right; }, kAccess, hm(15, 5), ask},
    {"a graft on the other side", [](Bedside& b) { b.risk(RiskKind::graft).side = Side::left; }, kAccess, hm(15, 5), open},
    {"a graft, side unknown", [](Bedside& b) { b.risk(RiskKind::graft); }, kAccess, hm(15, 5), ask},
    {"a graft recorded as absent", [](Bedside& b) { b.risk(RiskKind::graft).present = false; }, kAccess, hm(15, 5), open},
};

const std::vector<GateRow> kSiteRows = {
    {"a good check", [](Bedside&) {}, kSite, hm(15, 5), open},
    {"15 min old", [](Bedside&) {}, kSite, hm(15, 15), open},
    {"1 s older", [](Bedside&) {}, kSite, hm(15, 15, 1), needs},
    {"no check", [](Bedside& b) { b.site().checks.clear(); }, kSite, hm(15, 5), needs},
    {"ooze that does not grow", [](Bedside& b) { first(b).bleeding = Bleeding::ooze; }, kSite, hm(15, 5), open},
    {"ooze that grows", [](Bedside& b) { first(b).bleeding = Bleeding::ooze, first(b).growth = true; }, kSite, hm(15, 5), closed},
    {"bleeding", [](Bedside& b) { first(b).bleeding = Bleeding::bleeding; }, kSite, hm(15, 5), closed},
    {"4.9 cm", [](Bedside& b) { first(b).swelling = amount(4.9, "cm"); }, kSite, hm(15, 5), open},
    {"5 cm", [](Bedside& b) { first(b).swelling = amount(5, "cm"); }, kSite, hm(15, 5), closed},
    {"< 6 cm may be 5", [](Bedside& b) { first(b).swelling = compared(Comparator::less, 6, "cm"); }, kSite, hm(15, 5), needs},
    {"pulse weaker", [](Bedside& b) { first(b).foot_pulse = FootPulse::weaker; }, kSite, hm(15, 5), closed},
    {"pulse absent", [](Bedside& b) { first(b).foot_pulse = FootPulse::absent; }, kSite, hm(15, 5), closed},
    {"incomplete", [](Bedside& b) { first(b).foot_pulse.reset(); }, kSite, hm(15, 5), needs},
    {"an incomplete newer one that says nothing bad", [](Bedside& b) { b.check(hm(15, 2)).foot_pulse.reset(); }, kSite, hm(15, 5), needs},
    {"an incomplete newer one is never fresh", [](Bedside& b) { b.check(hm(15, 10)).foot_pulse.reset(); }, kSite, hm(15, 16), needs},
    {"an incomplete newer one that says bleeding", [](Bedside& b) { auto& c = b.check(hm(15, 2)); c.foot_pulse.reset(), c.bleeding = Bleeding::bleeding; }, kSite, hm(15, 5), closed},
    {"a good one after a bad one", [](Bedside& b) { b.check(hm(14, 50)).bleeding = Bleeding::bleeding; }, kSite, hm(15, 5), open},
    {"a bad one of the same instant", [](Bedside& b) { b.check(hm(15)).bleeding = Bleeding::bleeding; }, kSite, hm(15, 5), closed},
    {"on a day only: never fresh", [](Bedside& b) { first(b).at = Moment{hm(0), hm(23, 59, 59)}; }, kSite, hm(15, 5), needs},
};

const std::vector<GateRow> kPressureRows = {
    {"in range", [](Bedside&) {}, kPressure, hm(15, 5), open},
    {"15 min old", [](Bedside&) {}, kPressure, hm(15, 15), open},
    {"1 s older", [](Bedside&) {}, kPressure, hm(15, 15, 1), needs},
    {"none", pressures({}), kPressure, hm(15, 5), needs},
    {"89", pressures({{89, 60, hm(15)}}), kPressure, hm(15, 5), closed},
    {"90", pressures({{90, 60, hm(15)}}), kPressure, hm(15, 5), open},
    {"149", pressures({{149, 60, hm(15)}}), kPressure, hm(15, 5), open},
    {"150", pressures({{150, 60, hm(15)}}), kPressure, hm(15, 5), ask},
    {"159", pressures({{159, 60, hm(15)}}), kPressure, hm(15, 5), ask},
    {"160", pressures({{160, 60, hm(15)}}), kPressure, hm(15, 5), closed},
    {"diastolic 99", pressures({{130, 99, hm(15)}}), kPressure, hm(15, 5), open},
    {"diastolic 100", pressures({{130, 100, hm(15)}}), kPressure, hm(15, 5), closed},
    {"no diastolic", [](Bedside& b) { drop_pressures(b), b.lab(Analyte::systolic, 130, hm(15)); }, kPressure, hm(15, 5), needs},
    {"the worst of the 5 min before the newest", pressures({{155, 70, hm(14, 55)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), ask},
    {"not of 5 min and 1 s", pressures({{155, 70, hm(14, 54, 59)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), open},
    {"a low one in the window", pressures({{85, 50, hm(14, 56)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), closed},
    {"after a high one a single reading is not enough", pressures({{162, 70, hm(14, 50)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"two readings 4 min 59 s apart", pressures({{162, 70, hm(14, 45)}, {130, 70, hm(14, 55, 1)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"a reading of the same minute as the high one is none after it", pressures({{162, 70, hm(14, 50)}, {121, 70, hm(14, 50)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"two readings 5 min apart", pressures({{162, 70, hm(14, 45)}, {130, 70, hm(14, 55)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), open},
    {"one of the two in the range that asks", pressures({{162, 70, hm(14, 45)}, {152, 70, hm(14, 54)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"both in the range that asks", pressures({{162, 70, hm(14, 45)}, {152, 70, hm(14, 55)}, {152, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"a high diastolic counts as high", pressures({{140, 104, hm(14, 50)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"30 min after it still", pressures({{162, 70, hm(14, 30)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), needs},
    {"more than 30 min after it no more", pressures({{162, 70, hm(14, 29, 59)}, {130, 70, hm(15)}}), kPressure, hm(15, 5), open},
    {"a newest reading without a value", [](Bedside& b) { b.no_value(Analyte::systolic, hm(15, 2)); }, kPressure, hm(15, 5), needs},
};

const std::vector<GateRow> kRateRows = {
    {"39", rate(39), kRate, hm(15, 5), closed},   {"40", rate(40), kRate, hm(15, 5), ask},   {"49", rate(49), kRate, hm(15, 5), ask},
    {"50", rate(50), kRate, hm(15, 5), open},     {"120", rate(120), kRate, hm(15, 5), open}, {"121", rate(121), kRate, hm(15, 5), ask},
    {"15 min old", [](Bedside&) {}, kRate, hm(15, 15), open},
    {"1 s older", [](Bedside&) {}, kRate, hm(15, 15, 1), needs},
    {"only the newest", [](Bedside& b) { b.lab(Analyte::heart_rate, 130, hm(14, 59)); }, kRate, hm(15, 5), open},
};

class Beside : public testing::TestWithParam<GateRow> {};
TEST_P(Beside, Row) { expect_row(ready(), GetParam()); }
INSTANTIATE_TEST_SUITE_P(GateAccess, Beside, testing::ValuesIn(kAccessRows));
INSTANTIATE_TEST_SUITE_P(GateSiteStatus, Beside, testing::ValuesIn(kSiteRows));
INSTANTIATE_TEST_SUITE_P(GateBloodPressure, Beside, testing::ValuesIn(kPressureRows));
INSTANTIATE_TEST_SUITE_P(GateHeartRate, Beside, testing::ValuesIn(kRateRows));

TEST(GateAccess, AsksForEveryUnsettledFact) {
  Bedside bed = ready();
  bed.site().french = {};
  bed.site().vessel = {};
  EXPECT_EQ(bed.gate(kAccess, hm(15, 5))->needs, (std::vector{Fact::sheath_size, Fact::vessel}));
}

}  // namespace
}  // namespace clinical
