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
        // 1 mmol/L of the single chain = 16.114 g/L: molar mass 64458/4 g/mol (ICSH 1995, J Clin Pathol 1996;49:271-4, from memory). The whole molecule has four chains: under
        // 4.35 mmol/L either may be meant, over it four chains would be over 28 g/dL.
        ValueRow{"haemoglobin_mmol", "718-7", UCUM("8.4", "mmol/L"), 13'535'760},
        ValueRow{"haemoglobin_moles_by_its_own_code", "59260-0", UNIT("8.1", "mmol/l"), 13'052'340},
        ValueRow{"haemoglobin_mmol_over", "718-7", R"("valueQuantity":{"value":12,"comparator":">","unit":"mmol/L","system":"http://unitsofmeasure.org","code":"mmol/L"})", 19'336'800, Comparator::greater},
        ValueRow{"haemoglobin_mmol_of_one_chain_or_four_is_no_guess", "59260-0", UCUM("2.1", "mmol/L"), std::nullopt, Comparator::none, "ambiguous-unit"},
        ValueRow{"haemoglobin_mmol_of_the_least_of_one_chain", "718-7", UCUM("4.3", "mmol/L"), std::nullopt, Comparator::none, "ambiguous-unit"},
        ValueRow{"haemoglobin_mmol_under", "718-7", R"("valueQuantity":{"value":6,"comparator":"<","unit":"mmol/L","system":"http://unitsofmeasure.org","code":"mmol/L"})", std::nullopt, Comparator::less, "ambiguous-unit"},
        ValueRow{"act_sekunden", "3184-9", UNIT("149", "Sekunden"), clinical::whole(149), Comparator::none, "unit-alias"},
        ValueRow{"platelets_tsd", "777-3", UNIT("80", "Tsd/µl"), clinical::whole(80), Comparator::none, "unit-alias"},
        // Text that is nothing but comparator, number and unit.
        ValueRow{"act_over_as_text", "3184-9", R"("valueString":">400 s")", clinical::whole(400), Comparator::greater, ""},
        ValueRow{"act_at_least_as_text", "3184-9", R"("valueString":" \u2265 400 sec ")", clinical::whole(400), Comparator::at_least, ""},
        ValueRow{"act_under_as_text", "3184-9", R"("valueString":"< 80 s")", clinical::whole(80), Comparator::less, ""},
        ValueRow{"act_as_plain_text", "3184-9", R"("valueString":"149 s")", clinical::whole(149), Comparator::none, ""},
        ValueRow{"haemoglobin_with_a_comma", "718-7", R"("valueString":"13,1 g/dl")", 13'100'000, Comparator::none, ""},
        ValueRow{"fibrinogen_with_a_point", "3255-7", R"("valueString":"0.950 g/L")", 950'000, Comparator::none, ""},
        ValueRow{"a_comma_before_three_digits_may_be_either", "777-3", R"("valueString":"150,000 /uL")", std::nullopt, Comparator::none, "no-quantity"},
        ValueRow{"a_point_before_three_digits_may_be_either", "777-3", R"("valueString":"150.000 /uL")", std::nullopt, Comparator::none, "no-quantity"},
        ValueRow{"act_about_as_text", "3184-9", R"("valueString":"about 140 s")", std::nullopt, Comparator::none, "no-quantity"},
        ValueRow{"act_text_of_another_kind", "3184-9", R"("valueString":"140 mg")", std::nullopt, Comparator::none, "unknown-unit"},
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

TEST(Measurement, what_could_not_be_read_is_kept_as_recorded) {
  const auto unread = [](const std::string& value, const char* time = R"("effectiveDateTime":"2026-03-02T10:00:00Z",)") {
    const auto result = reading_test::read({std::string(R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},)") + time + R"("code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},)" + value + "}"});
    EXPECT_FALSE(result.record.measurements.at(0).value);
    return result.record.measurements.at(0).unread;
  };
  EXPECT_EQ(unread(R"("valueQuantity":{"value":149})"), "149");
  EXPECT_EQ(unread(R"("valueQuantity":{"value":149,"unit":"mg"})"), "149 mg");
  EXPECT_EQ(unread(R"("valueString":"clotting, about 140")"), "clotting, about 140");
  EXPECT_EQ(unread(R"("valueCodeableConcept":{"text":"high"})"), "high");
  EXPECT_EQ(unread(R"("valueInteger":149)"), "149");
  EXPECT_EQ(unread(R"("valueRange":{"low":{"value":140,"unit":"s"},"high":{"value":150,"unit":"s"}})"), "140 s");
  EXPECT_EQ(unread(R"("dataAbsentReason":{"text":"clotted"})"), "") << "nothing is recorded";
  EXPECT_EQ(unread(R"("valueQuantity":{"value":0,"unit":"s"})"), "") << "a number that it cannot be is told as such";
}

// FHIR R4 example Observation/f205, shape. Of a value of which only the time of the result is known, the draw may be older or newer than any other: it stands at its result and opens nothing.
TEST(Measurement, a_value_without_a_time_of_drawing_stands_unread_at_its_result) {
  const auto result = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"issued":"2026-03-02T10:00:00Z","code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},
    "valueQuantity":{"value":240,"system":"http://unitsofmeasure.org","code":"s"}})"});
  const auto& m = result.record.measurements.at(0);
  EXPECT_FALSE(m.value);
  EXPECT_EQ(m.unread, "240 s");
  ASSERT_TRUE(m.at);
  EXPECT_EQ(m.at->latest, reading_test::instant("2026-03-02T10:00:00Z"));
  EXPECT_TRUE(reading_test::has_issue(result, "no-time"));
}

TEST(Measurement, a_draw_that_contradicts_itself_lies_between_its_times) {
  const auto drawn = [](const char* effective, const char* sample, const char* issued) {
    const auto result = reading_test::read({std::string(R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"specimen":{"reference":"#s"},"contained":[{"resourceType":"Specimen","id":"s","collection":{"collectedDateTime":")") + sample +
                                            R"("}}],"code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"effectiveDateTime":")" + effective + R"(","issued":")" + issued +
                                            R"(","valueQuantity":{"value":149,"system":"http://unitsofmeasure.org","code":"s"}})"});
    return *result.record.measurements.at(0).at;
  };
  const auto at = [](const char* text) { return reading_test::instant(text); };
  EXPECT_EQ(drawn("2026-03-02T10:40:00Z", "2026-03-02T10:05:00Z", "2026-03-02T10:45:00Z").latest, at("2026-03-02T10:05:00Z")) << "stamped when the result came";
  const auto later = drawn("2026-03-02T10:05:00Z", "2026-03-02T10:40:00Z", "2026-03-02T10:45:00Z");
  EXPECT_EQ(later.earliest, at("2026-03-02T10:05:00Z")) << "as old as the older";
  EXPECT_EQ(later.latest, at("2026-03-02T10:40:00Z"));
  const auto near = drawn("2026-03-02T10:05:00Z", "2026-03-02T10:09:00Z", "2026-03-02T10:45:00Z");
  EXPECT_EQ(near.earliest, at("2026-03-02T10:09:00Z")) << "clocks differ";
  const auto before_drawn = drawn("2026-03-02T10:40:00Z", "2026-03-02T10:40:00Z", "2026-03-02T10:20:00Z");
  EXPECT_EQ(before_drawn.earliest, at("2026-03-02T10:20:00Z")) << "no result comes before the blood";
  EXPECT_EQ(before_drawn.latest, at("2026-03-02T10:40:00Z"));
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

// LOINC 85354-9 "Blood pressure panel with all children optional", 55284-4 "Blood pressure systolic and diastolic".
TEST(Measurement, a_pressure_panel_without_its_parts_is_a_pressure_that_cannot_be_read) {
  const std::pair<const char*, const char*> rows[] = {{R"("valueString":"82/40")", "82/40"}, {R"("dataAbsentReason":{"text":"not measurable"})", ""}, {R"("note":[{"text":"x"}])", ""}};
  for (const auto* code : {"85354-9", "55284-4"})
    for (const auto& [value, recorded] : rows) {
      const auto result = reading_test::read({fmt::format(R"({{"resourceType":"Observation","id":"o","status":"final","subject":{{"reference":"Patient/a"}},
        "code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},"effectiveDateTime":"2026-03-02T10:00:00Z",{}}})", code, value)});
      const auto& found = result.record.measurements;
      ASSERT_EQ(found.size(), 2u) << code << value;
      EXPECT_EQ(found[0].analyte, Analyte::systolic);
      EXPECT_EQ(found[1].analyte, Analyte::diastolic);
      for (const auto& m : found) {
        EXPECT_FALSE(m.value);
        EXPECT_TRUE(m.at);
        EXPECT_EQ(m.unread, recorded) << value;
      }
      EXPECT_FALSE(result.issues.empty()) << value << ": it is told";
    }
  const auto doubtful = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "modifierExtension":[{"url":"https://hospital.example/negated","valueBoolean":true}],"code":{"coding":[{"system":"http://loinc.org","code":"85354-9"}]},"valueString":"82/40"})"});
  EXPECT_EQ(doubtful.record.measurements.size(), 2u);
  const auto parted = reading_test::read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"85354-9"}]},"hasMember":[{"reference":"Observation/systolic"},{"reference":"Observation/diastolic"}]})"});
  EXPECT_TRUE(parted.record.measurements.empty()) << "its parts are results of their own";
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
