#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using clinical::Analyte;
using clinical::Comparator;

struct ValueRow {
  const char* name;
  const char* loinc;
  const char* value;  // members of the Observation
  std::optional<clinical::Micro> micro;
  Comparator comparator = Comparator::none;
  const char* issue = "";
};
void PrintTo(const ValueRow& row, std::ostream* os) { *os << row.name; }

class Values : public testing::TestWithParam<ValueRow> {};

TEST_P(Values, are_exact_or_absent) {
  const auto result = reading_test::read({fmt::format(R"({{"resourceType":"Observation","id":"o","status":"final","subject":{{"reference":"Patient/a"}},
    "code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},"effectiveDateTime":"2026-03-02T10:00:00Z",{}}})", GetParam().loinc, GetParam().value)});
  ASSERT_EQ(result.record.measurements.size(), 1u);
  const auto& value = result.record.measurements[0].value;
  ASSERT_EQ(value.has_value(), GetParam().micro.has_value()) << reading_test::all_issues(result.issues);
  if (value) {
    EXPECT_EQ(value->micro, *GetParam().micro);
    EXPECT_EQ(value->comparator, GetParam().comparator);
  }
  const std::string issue = GetParam().issue;
  EXPECT_TRUE(issue.empty() || reading_test::has_issue(result, issue)) << reading_test::all_issues(result.issues);
}

#define UCUM(number, unit) R"("valueQuantity":{"value":)" number R"(,"unit":")" unit R"(","system":"http://unitsofmeasure.org","code":")" unit R"("})"
#define UNIT(number, unit) R"("valueQuantity":{"value":)" number R"(,"unit":")" unit R"("})"

// Factors: UCUM; creatinine by 88.4 umol/L per mg/dL (the convention of laboratory conversion tables). Shapes: FHIR R4 examples where named.
INSTANTIATE_TEST_SUITE_P(
    table, Values,
    testing::Values(
        ValueRow{"act_seconds", "3184-9", UCUM("149", "s"), clinical::whole(149)},
        ValueRow{"act_greater_is_an_open_interval", "3184-9", R"("valueQuantity":{"value":400,"comparator":">","unit":"s","system":"http://unitsofmeasure.org","code":"s"})", clinical::whole(400), Comparator::greater},
        ValueRow{"act_sec", "3184-9", UNIT("149", "sec"), clinical::whole(149), Comparator::none, "unit-alias"},
        ValueRow{"act_minutes", "3184-9", UCUM("2.5", "min"), clinical::whole(150)},
        ValueRow{"act_without_unit", "3184-9", R"("valueQuantity":{"value":149})", std::nullopt, Comparator::none, "no-unit"},
        ValueRow{"act_of_another_kind", "3184-9", UCUM("149", "mg"), std::nullopt, Comparator::none, "unknown-unit"},
        ValueRow{"act_as_text", "3184-9", R"("valueString":">400")", std::nullopt, Comparator::none, "no-quantity"},
        ValueRow{"act_absent", "3184-9", R"("dataAbsentReason":{"text":"clotted"})", std::nullopt, Comparator::none, "absent"},
        ValueRow{"act_zero", "3184-9", UCUM("0", "s"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"act_negative", "3184-9", UCUM("-5", "s"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"unknown_comparator", "3184-9", R"("valueQuantity":{"value":400,"comparator":"ad","unit":"s","system":"http://unitsofmeasure.org","code":"s"})", std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"code_and_unit_text_disagree", "3184-9", R"("valueQuantity":{"value":3,"unit":"min","system":"http://unitsofmeasure.org","code":"s"})", std::nullopt, Comparator::none, "disagreeing-units"},
        ValueRow{"inr_unity", "6301-6", UCUM("1.5", "{INR}"), 1'500'000},
        ValueRow{"inr_without_unit", "6301-6", R"("valueQuantity":{"value":1.5})", 1'500'000, Comparator::none, "unit-alias"},
        ValueRow{"platelets_per_litre", "777-3", UCUM("150", "10*9/L"), clinical::whole(150)},
        ValueRow{"platelets_per_microlitre", "777-3", UCUM("150000", "/uL"), clinical::whole(150)},
        ValueRow{"platelets_k_per_ul", "777-3", UNIT("150", "K/uL"), clinical::whole(150), Comparator::none, "unit-alias"},
        ValueRow{"haemoglobin_g_per_litre", "718-7", UCUM("131", "g/L"), 13'100'000},
        ValueRow{"haemoglobin_mmol_is_no_guess", "718-7", UCUM("8.1", "mmol/L"), std::nullopt, Comparator::none, "unknown-unit"},
        ValueRow{"creatinine_umol_exactly", "14682-9", UCUM("88.4", "umol/L"), clinical::whole(1)},
        ValueRow{"creatinine_unit_code_of_snomed_as_in_f204", "14682-9", R"("valueQuantity":{"value":122,"unit":"umol/L","system":"http://snomed.info/sct","code":"258814008"})", 1'380'090},
        ValueRow{"weight_pounds_as_in_the_example", "29463-7", R"("valueQuantity":{"value":185,"unit":"lbs","system":"http://unitsofmeasure.org","code":"[lb_av]"})", 83'914'588},
        ValueRow{"height_inches_with_an_artefact", "8302-2", R"("valueQuantity":{"value":66.89999999999999,"unit":"in","system":"http://unitsofmeasure.org","code":"[in_i]"})", 169'926'000},
        // Numbers that no living adult has (from memory, wide on purpose): another unit, a lost decimal point, another test.
        ValueRow{"creatinine_of_mg_per_dl_called_umol", "14682-9", UCUM("1.9", "umol/L"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"creatinine_of_umol_called_mg_per_dl", "2160-0", UCUM("88", "mg/dL"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"creatinine_of_a_wasted_patient", "2160-0", UCUM("0.19", "mg/dL"), 190'000},
        ValueRow{"creatinine_of_an_untreated_failure", "2160-0", UCUM("30", "mg/dL"), clinical::whole(30)},
        ValueRow{"weight_800_kg", "29463-7", UCUM("800", "kg"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"weight_250_kg", "29463-7", UCUM("250", "kg"), clinical::whole(250)},
        ValueRow{"height_of_metres_called_cm", "8302-2", UCUM("1.7", "cm"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"act_14_s", "3184-9", UCUM("14", "s"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"act_under_14_s", "3184-9", R"("valueQuantity":{"value":14,"comparator":"<","unit":"s","system":"http://unitsofmeasure.org","code":"s"})", std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"act_over_1500_s", "3184-9", R"("valueQuantity":{"value":1500,"comparator":">","unit":"s","system":"http://unitsofmeasure.org","code":"s"})", clinical::whole(1500), Comparator::greater},
        ValueRow{"haemoglobin_of_g_per_l_called_g_per_dl", "718-7", UCUM("131", "g/dL"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"inr_of_a_lost_point", "6301-6", UCUM("0.1", "{INR}"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"temperature_in_fahrenheit_called_celsius", "8310-5", UCUM("98.6", "Cel"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"saturation_over_100", "59408-5", UCUM("980", "%"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"an_emergency_is_no_slip_systolic_45", "8480-6", UCUM("45", "mm[Hg]"), clinical::whole(45)},
        ValueRow{"an_emergency_is_no_slip_platelets_2", "777-3", UCUM("2", "10*9/L"), clinical::whole(2)},
        ValueRow{"an_emergency_is_no_slip_heart_rate_18", "8867-4", UCUM("18", "/min"), clinical::whole(18)},
        ValueRow{"tiny_number", "3184-9", UCUM("1E-22", "s"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"huge_number", "3184-9", UCUM("1E+245", "s"), std::nullopt, Comparator::none, "out-of-range"},
        ValueRow{"number_as_text", "3184-9", R"("valueQuantity":{"value":"149","unit":"s","system":"http://unitsofmeasure.org","code":"s"})", std::nullopt, Comparator::none, "no-number"}),
    [](const auto& row) { return row.param.name; });

TEST(Measurement, what_cannot_be_is_named_with_its_digits) {
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"14682-9"}]},"valueQuantity":{"value":1.9,"unit":"umol/L","system":"http://unitsofmeasure.org","code":"umol/L"}})"});
  ASSERT_EQ(result.record.measurements.size(), 1u);
  EXPECT_FALSE(result.record.measurements[0].value);
  EXPECT_THAT(reading_test::all_issues(result.issues), testing::HasSubstr("1.9 umol/L cannot be the creatinine: is the unit right?"));
}

TEST(Measurement, blood_pressure_panel_with_one_part_absent) {  // FHIR R4 example Observation/blood-pressure-dar, shape
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"bp","status":"final","subject":{"reference":"Patient/a"},
    "code":{"coding":[{"system":"http://loinc.org","code":"85354-9"}]},"effectiveDateTime":"2026-03-02T10:00:00Z","component":[
    {"code":{"coding":[{"system":"http://loinc.org","code":"8480-6"},{"system":"http://snomed.info/sct","code":"271649006"}]},"valueQuantity":{"value":16,"unit":"kPa","system":"http://unitsofmeasure.org","code":"kPa"}},
    {"code":{"coding":[{"system":"http://loinc.org","code":"8462-4"}]},"dataAbsentReason":{"text":"not performed"}}]})"});
  ASSERT_EQ(result.record.measurements.size(), 2u);
  EXPECT_EQ(result.record.measurements[0].analyte, Analyte::systolic);
  EXPECT_EQ(result.record.measurements[0].value->micro, 120'010'201);  // 16 kPa; UCUM: m[Hg] = 133.322 kPa
  EXPECT_EQ(result.record.measurements[1].analyte, Analyte::diastolic);
  EXPECT_FALSE(result.record.measurements[1].value);
}

TEST(Measurement, the_specimens_time_is_the_draw) {
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"preliminary","subject":{"reference":"Patient/a"},"specimen":{"reference":"Specimen/s"},
    "device":{"display":"Analyser 2"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"effectiveDateTime":"2026-03-02T10:40:00Z",
    "valueQuantity":{"value":149,"system":"http://unitsofmeasure.org","code":"s"}})",
    R"({"resourceType":"Specimen","id":"s","subject":{"reference":"Patient/a"},"collection":{"collectedDateTime":"2026-03-02T11:05:00+01:00","bodySite":{"text":"arterial sheath"}}})"});
  const auto& m = result.record.measurements.at(0);
  EXPECT_EQ(m.at->earliest, reading_test::instant("2026-03-02T10:05:00Z"));
  EXPECT_EQ(m.sampling_site, "arterial sheath");
  EXPECT_EQ(m.analyser, "Analyser 2");
  EXPECT_TRUE(m.preliminary);
  EXPECT_TRUE(reading_test::has_issue(result, "draw-time"));
}

TEST(Measurement, only_issued_is_no_time) {  // FHIR R4 example Observation/f205, shape
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"issued":"2026-03-02T10:40:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"2160-0"}]},"valueQuantity":{"value":0.9,"system":"http://unitsofmeasure.org","code":"mg/dL"}})"});
  EXPECT_FALSE(result.record.measurements.at(0).at);
  EXPECT_TRUE(reading_test::has_issue(result, "no-time"));
}

TEST(Measurement, prothrombin_time_is_no_inr_and_cancelled_is_nothing) {
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"pt","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"5902-2"}],"text":"INR"},"valueQuantity":{"value":1.2,"system":"http://unitsofmeasure.org","code":"1"}})",
    R"({"resourceType":"Observation","id":"c","status":"cancelled","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]}})"});
  EXPECT_TRUE(result.record.measurements.empty());
}

TEST(Measurement, a_doubtful_observation_leaves_an_absent_value) {
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "modifierExtension":[{"url":"https://hospital.example/negated","valueBoolean":true}],"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},
    "valueQuantity":{"value":120,"system":"http://unitsofmeasure.org","code":"s"}})"});
  ASSERT_EQ(result.record.measurements.size(), 1u);
  EXPECT_FALSE(result.record.measurements[0].value);
  EXPECT_TRUE(reading_test::has_issue(result, "modifier-extension"));
}

TEST(Measurement, codes_of_two_quantities_in_one_concept_are_refused) {  // FHIR R4 example Observation/f202, shape
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"3184-9"},{"system":"http://loinc.org","code":"3173-2"}]},"valueQuantity":{"value":120,"system":"http://unitsofmeasure.org","code":"s"}})"});
  EXPECT_TRUE(result.record.measurements.empty());
  EXPECT_TRUE(reading_test::has_issue(result, "codes-disagree"));
}

}  // namespace
