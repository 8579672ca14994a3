#include "fhir_read/reading_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

namespace {

using clinical::DoseUnit;

std::string dose(std::string_view members, std::string_view status = "completed", std::string_view agent = "heparin") {
  return fmt::format(R"({{"resourceType":"MedicationAdministration","id":"m","status":"{}","subject":{{"reference":"Patient/a"}},
    "medicationCodeableConcept":{{"text":"{}"}},{}}})", status, agent, members);
}

struct AmountRow {
  const char* name;
  const char* agent;
  const char* dosage;
  std::optional<clinical::Micro> dose, rate;
  DoseUnit unit = DoseUnit::international_unit;
  bool per_kg = false;
};
void PrintTo(const AmountRow& row, std::ostream* os) { *os << row.name; }

class Amounts : public testing::TestWithParam<AmountRow> {};

TEST_P(Amounts, are_read_exactly_or_left_out) {
  const auto& row = GetParam();
  const auto result = reading_test::read({dose(fmt::format(R"("effectiveDateTime":"2026-03-02T10:00:00Z","dosage":{})", row.dosage), "completed", row.agent)});
  const auto& a = result.record.administrations.at(0);
  ASSERT_EQ(a.dose.has_value(), row.dose.has_value()) << reading_test::all_issues(result.issues);
  ASSERT_EQ(a.rate.has_value(), row.rate.has_value()) << reading_test::all_issues(result.issues);
  if (a.dose) {
    EXPECT_EQ(a.dose->amount.micro, *row.dose);
    EXPECT_EQ(a.dose->unit, row.unit);
    EXPECT_EQ(a.dose->per_kg, row.per_kg);
  }
  if (a.rate) {
    EXPECT_EQ(a.rate->amount.micro, *row.rate);
    EXPECT_EQ(a.rate->unit, row.unit);
    EXPECT_EQ(a.rate->per_kg, row.per_kg);
  }
}

#define Q(number, unit) R"({"value":)" number R"(,"unit":")" unit R"(","system":"http://unitsofmeasure.org","code":")" unit R"("})"
constexpr std::optional<clinical::Micro> kAbsent;

// UCUM: [iU] and [IU] are equal; U is an enzyme unit, accepted as [iU] for heparins only. FHIR R4 medadmin0305 and 0307 send a duration as a rate.
INSTANTIATE_TEST_SUITE_P(
    table, Amounts,
    testing::Values(
        AmountRow{"international_units", "heparin", R"({"dose":)" Q("5000", "[iU]") "}", clinical::whole(5000), kAbsent},
        AmountRow{"capital_international_units", "heparin", R"({"dose":)" Q("5000", "[IU]") "}", clinical::whole(5000), kAbsent},
        AmountRow{"u_for_heparin", "heparin", R"({"dose":)" Q("5000", "U") "}", clinical::whole(5000), kAbsent},
        AmountRow{"unt_for_heparin", "heparin", R"({"dose":{"value":5000,"unit":"UNT"}})", clinical::whole(5000), kAbsent},
        AmountRow{"u_for_another_drug", "reteplase", R"({"dose":)" Q("10", "U") "}", kAbsent, kAbsent},
        AmountRow{"no_unit", "heparin", R"({"dose":{"value":5000}})", kAbsent, kAbsent},
        AmountRow{"comparator_is_refused", "heparin", R"({"dose":{"value":5000,"comparator":">","unit":"[iU]","system":"http://unitsofmeasure.org","code":"[iU]"}})", kAbsent, kAbsent},
        AmountRow{"grams", "aspirin", R"({"dose":)" Q("0.5", "g") "}", clinical::whole(500), kAbsent, DoseUnit::milligram},
        AmountRow{"per_kg", "bivalirudin", R"({"dose":)" Q("0.75", "mg/kg") "}", 750'000, kAbsent, DoseUnit::milligram, true},
        AmountRow{"millilitres_are_kept_as_other", "heparin", R"({"dose":)" Q("5", "mL") "}", clinical::whole(5), kAbsent, DoseUnit::other},
        AmountRow{"units_an_hour", "heparin", R"({"rateQuantity":)" Q("1000", "[iU]/h") "}", kAbsent, clinical::whole(1000)},
        AmountRow{"micrograms_per_kg_and_minute", "eptifibatide", R"({"rateQuantity":)" Q("2", "ug/kg/min") "}", kAbsent, 120'000, DoseUnit::milligram, true},
        AmountRow{"mcg_per_kg_and_minute", "eptifibatide", R"({"rateQuantity":{"value":2,"unit":"mcg/kg/min"}})", kAbsent, 120'000, DoseUnit::milligram, true},
        AmountRow{"milligrams_per_kg_and_hour", "bivalirudin", R"({"rateQuantity":)" Q("1.75", "mg/kg/h") "}", kAbsent, 1'750'000, DoseUnit::milligram, true},
        AmountRow{"duration_sent_as_a_rate", "heparin", R"({"rateQuantity":)" Q("20", "min") "}", kAbsent, kAbsent},
        AmountRow{"rate_sent_as_a_dose", "heparin", R"({"dose":)" Q("1000", "[iU]/h") "}", kAbsent, kAbsent},
        AmountRow{"ratio_over_two_hours", "heparin", R"({"rateRatio":{"numerator":)" Q("2000", "[iU]") R"(,"denominator":)" Q("2", "h") "}}", kAbsent, clinical::whole(1000)},
        AmountRow{"ratio_over_no_time", "heparin", R"({"rateRatio":{"numerator":)" Q("2000", "[iU]") R"(,"denominator":)" Q("2", "mL") "}}", kAbsent, kAbsent},
        AmountRow{"dosage_as_a_list", "heparin", R"([{"dose":)" Q("5000", "[iU]") "}]", clinical::whole(5000), kAbsent}),
    [](const auto& row) { return row.param.name; });

TEST(Administration, a_period_without_end_has_none) {
  const auto running = reading_test::read({dose(R"("effectivePeriod":{"start":"2026-03-02T10:00:00+01:00"})", "in-progress")});
  EXPECT_EQ(running.record.administrations.at(0).start->earliest, reading_test::instant("2026-03-02T09:00:00Z"));
  EXPECT_FALSE(running.record.administrations.at(0).end);
  EXPECT_FALSE(running.record.administrations.at(0).bolus);
  const auto over = reading_test::read({dose(R"("effectivePeriod":{"start":"2026-03-02T10:00:00+01:00"})")});
  EXPECT_TRUE(reading_test::has_issue(over, "no-end"));
}

TEST(Administration, r5_spells_occurence_with_one_r) {
  const auto result = reading_test::read({dose(R"("occurenceDateTime":"2026-03-02T10:00:00Z")")});
  EXPECT_TRUE(result.record.administrations.at(0).bolus);
}

TEST(Administration, not_done_and_entered_in_error_are_no_doses) {
  EXPECT_TRUE(reading_test::read({dose(R"("effectiveDateTime":"2026-03-02T10:00:00Z")", "not-done")}).record.administrations.empty());
  const auto error = reading_test::read({dose(R"("effectiveDateTime":"2026-03-02T10:00:00Z")", "entered-in-error")});
  EXPECT_TRUE(error.record.administrations.empty());
  EXPECT_TRUE(reading_test::has_issue(error, "entered-in-error"));
}

TEST(Administration, a_doubtful_dose_stays_as_an_unidentified_drug) {
  const auto result = reading_test::read({dose(R"("effectiveDateTime":"2026-03-02T10:00:00Z","implicitRules":"https://hospital.example/rules")")});
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_EQ(result.record.administrations[0].agent, clinical::Agent::unidentified);
}

TEST(Administration, routes_by_code_and_by_text) {  // SNOMED CT codes as in FHIR R4 medadmin0301 and 0308
  const auto route = [](std::string_view content) {
    return reading_test::read({dose(fmt::format(R"("effectiveDateTime":"2026-03-02T10:00:00Z","dosage":{{"route":{}}})", content))}).record.administrations.at(0).route;
  };
  EXPECT_EQ(route(R"({"coding":[{"system":"http://snomed.info/sct","code":"47625008"}]})"), clinical::Route::intravenous);
  EXPECT_EQ(route(R"({"coding":[{"system":"http://snomed.info/sct","code":"34206005"}]})"), clinical::Route::subcutaneous);
  EXPECT_EQ(route(R"({"text":"SC"})"), clinical::Route::subcutaneous);
  EXPECT_EQ(route(R"({"text":"by pump"})"), clinical::Route::other);
  EXPECT_EQ(route(R"({})"), clinical::Route::unknown);
}

}  // namespace
