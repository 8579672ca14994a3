#include "fhir/units.h"

#include <gtest/gtest.h>

#include <ostream>

namespace {

using fhir::QuantityKind;
using fhir::Ratio;
using fhir::UnitFault;

// 1 of the unit, and many, in the kind's own unit. Factors: UCUM (ucum-essence) unless said otherwise.
struct Row {
  const char* name;
  QuantityKind kind;
  const char* unit;
  std::optional<Ratio> factor;
  bool alias = false;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }
class Units : public testing::TestWithParam<Row> {};

TEST_P(Units, convert_exactly) {
  const auto& row = GetParam();
  const auto unit = fhir::find_unit(row.unit, row.kind);
  ASSERT_EQ(unit.has_value(), row.factor.has_value());
  if (!unit) return;
  EXPECT_EQ(unit->factor.num * row.factor->den, unit->factor.den * row.factor->num);
  EXPECT_EQ(unit->alias, row.alias);
}

using K = QuantityKind;
const std::optional<Ratio> kNone;

INSTANTIATE_TEST_SUITE_P(
    table, Units,
    testing::Values(
        Row{"hour", K::seconds, "h", Ratio{3600, 1}}, Row{"day", K::seconds, "d", Ratio{86400, 1}}, Row{"millisecond", K::seconds, "ms", Ratio{1, 1000}},
        Row{"sec", K::seconds, "sec", Ratio{1, 1}, true}, Row{"capital_s_is_siemens", K::seconds, "S", kNone},
        Row{"pound", K::kilograms, "[lb_av]", Ratio{45359237, 100000000}}, Row{"lbs", K::kilograms, "lbs", Ratio{45359237, 100000000}, true},
        Row{"inch", K::centimetres, "[in_i]", Ratio{254, 100}}, Row{"metre", K::centimetres, "m", Ratio{100, 1}},
        Row{"french_is_a_third_of_a_millimetre", K::french, "mm", Ratio{3, 1}},  // as sheaths are sized: common practice
        Row{"kilopascal", K::millimetres_mercury, "kPa", Ratio{1'000'000, 133'322}}, Row{"mmhg", K::millimetres_mercury, "mmHg", Ratio{1, 1}, true},
        Row{"creatinine_micromol", K::creatinine, "umol/L", Ratio{10, 884}}, Row{"creatinine_micromol_lower", K::creatinine, "umol/l", Ratio{10, 884}},  // l is UCUM as well
        Row{"creatinine_micromol_upper", K::creatinine, "UMOL/L", Ratio{10, 884}, true},
        Row{"haemoglobin_per_litre", K::haemoglobin, "g/L", Ratio{1, 10}}, Row{"haemoglobin_mmol", K::haemoglobin, "mmol/L", Ratio{16114, 10000}},
        Row{"fibrinogen_mg", K::fibrinogen, "mg/dL", Ratio{1, 100}}, Row{"cells_per_microlitre", K::cells, "/uL", Ratio{1, 1000}},
        Row{"cells_thousand", K::cells, "10*3/uL", Ratio{1, 1}}, Row{"cells_giga", K::cells, "G/L", Ratio{1, 1}, true}, Row{"cells_gram_is_no_giga", K::cells, "g/L", kNone},
        Row{"per_minute", K::per_minute, "/min", Ratio{1, 1}}, Row{"bpm", K::per_minute, "bpm", Ratio{1, 1}, true},
        Row{"bare_u_is_no_international_unit", K::international_units, "U", kNone}, Row{"iu", K::international_units, "IU", Ratio{1, 1}, true},
        Row{"megagram_is_no_milligram", K::milligrams, "Mg", kNone}, Row{"microgram", K::milligrams, "mcg", Ratio{1, 1000}, true},
        Row{"wrong_kind", K::seconds, "mg", kNone}, Row{"enzyme", K::enzyme, "U/L", Ratio{1, 1}}, Row{"katal", K::enzyme, "ukat/L", Ratio{60, 1}}),
    [](const auto& row) { return row.param.name; });

TEST(Units, no_unit_is_never_guessed) {
  const auto convert = [](const char* text, QuantityKind kind) { return fhir::convert(*json::parse(text), kind); };
  EXPECT_EQ(convert(R"({"value":149})", K::seconds).error(), UnitFault::no_unit);
  EXPECT_EQ(convert(R"({"value":149,"code":"s"})", K::seconds).error(), UnitFault::no_unit);  // a code without its system
  EXPECT_TRUE(convert(R"({"value":1.2})", K::inr).has_value());
  EXPECT_EQ(convert(R"({"value":1.2,"unit":"s"})", K::inr).error(), UnitFault::unknown_unit);
  EXPECT_EQ(convert(R"({"value":2,"unit":"min","system":"http://unitsofmeasure.org","code":"s"})", K::seconds).error(), UnitFault::disagreeing_units);
  EXPECT_TRUE(convert(R"({"value":2,"unit":"mmHg","system":"http://unitsofmeasure.org","code":"mm[Hg]"})", K::millimetres_mercury).has_value());
}

TEST(Units, of_doses_and_rates) {
  const auto rate = fhir::find_drug_unit("ug/kg/min", false);
  ASSERT_TRUE(rate);
  EXPECT_EQ(rate->amount, fhir::DrugUnit::Amount::milligrams);
  EXPECT_TRUE(rate->per_kg && rate->per_time);
  EXPECT_EQ(rate->factor.num * 100, rate->factor.den * 6);  // 1 ug/min = 0.06 mg/h
  EXPECT_TRUE(fhir::find_drug_unit("U/kg/h", true).has_value());
  EXPECT_FALSE(fhir::find_drug_unit("U/kg/h", false).has_value());
  EXPECT_TRUE(fhir::find_drug_unit("units/hr", true)->alias);
  const auto daily = fhir::find_drug_unit("[iU]/(24.h)", false), same = fhir::find_drug_unit("[iU]/d", false);
  ASSERT_TRUE(daily && same);
  EXPECT_EQ(daily->factor.num * same->factor.den, daily->factor.den * same->factor.num);
  EXPECT_TRUE(fhir::find_drug_unit("[iU]/(kg.h)", false)->per_kg);
  for (const auto* bad : {"min", "h", "mg/min/min", "mg/kg/kg", "mg/", "tablet", "/h", "mg/(kg", "mg/()", "mg/0", "mg/(0.h)", "mg/24.h"}) EXPECT_FALSE(fhir::find_drug_unit(bad, true).has_value()) << bad;
}

}  // namespace
