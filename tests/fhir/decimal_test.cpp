#include "fhir/decimal.h"

#include <gtest/gtest.h>

#include <ostream>

namespace {

using fhir::Decimal;
using fhir::Millionths;
using fhir::Ratio;

struct Row {
  const char* name;
  const char* written;
  Ratio factor;
  std::optional<Millionths> micro;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }
class DecimalMillionths : public testing::TestWithParam<Row> {};

TEST_P(DecimalMillionths, are_exact_or_say_so) {
  const auto d = Decimal::parse(GetParam().written);
  ASSERT_TRUE(d);
  EXPECT_EQ(d->written(), GetParam().written);
  EXPECT_EQ(d->millionths(GetParam().factor), GetParam().micro);
}

// Arithmetic by hand. FHIR R4 decimal: precision as written counts; 1E-22 and 1.0E-245 stand in the example Observation/decimal.
INSTANTIATE_TEST_SUITE_P(
    table, DecimalMillionths,
    testing::Values(Row{"whole", "290", {}, Millionths{290'000'000, false}}, Row{"trailing_zeros", "1.500", {}, Millionths{1'500'000, false}},
                    Row{"negative", "-2.5", {}, Millionths{-2'500'000, false}}, Row{"exponent", "2.5E2", {}, Millionths{250'000'000, false}},
                    Row{"lower_exponent", "25e-1", {}, Millionths{2'500'000, false}}, Row{"tiny", "1E-22", {}, Millionths{0, true}},
                    Row{"tiniest", "1.000000000000000000E-245", {}, Millionths{0, true}}, Row{"huge", "-1.000000000000000000E+245", {}, std::nullopt},
                    Row{"zero_of_any_size", "0E+999999", {}, Millionths{0, false}}, Row{"minus_zero", "-0.0", {}, Millionths{0, false}},
                    Row{"half_rounds_away", "0.0000005", {}, Millionths{1, true}}, Row{"below_half", "0.00000049", {}, Millionths{0, true}},
                    Row{"negative_half", "-0.0000005", {}, Millionths{-1, true}}, Row{"third", "1", {1, 3}, Millionths{333'333, true}},
                    Row{"pound_in_kg", "185", {45359237, 100000000}, Millionths{83'914'588, true}},
                    Row{"creatinine_micromol", "88.4", {10, 884}, Millionths{1'000'000, false}},
                    Row{"largest", "9223372036854.775807", {}, Millionths{INT64_MAX, false}}, Row{"one_too_large", "9223372036854.775808", {}, std::nullopt}),
    [](const auto& row) { return row.param.name; });

TEST(Decimal, order_is_by_value) {
  const auto d = [](const char* text) { return *Decimal::parse(text); };
  EXPECT_EQ(d("1.0"), d("1.00"));
  EXPECT_EQ(d("10E-1"), d("1"));
  EXPECT_EQ(d("-0"), d("0"));
  EXPECT_LT(d("-2"), d("-1"));
  EXPECT_LT(d("9"), d("10"));
  EXPECT_LT(d("1E-300"), d("1E-299"));
  EXPECT_GT(d("1.01"), d("1.001"));
  EXPECT_LT(d("-1"), d("1E-9"));
}

TEST(Decimal, refuses_what_is_no_number) {
  for (const auto* text : {"", "1.", ".5", "+1", "01", "1e", "NaN", "1E1234567", " 1", "1 "}) EXPECT_FALSE(Decimal::parse(text)) << text;
}

TEST(Decimal, shortest_writing) {
  EXPECT_EQ(fhir::shortest(150'000'000), "150");
  EXPECT_EQ(fhir::shortest(1'500'000), "1.5");
  EXPECT_EQ(fhir::shortest(-250'000), "-0.25");
  EXPECT_EQ(fhir::shortest(1), "0.000001");
  EXPECT_EQ(fhir::shortest(INT64_MIN), "-9223372036854.775808");
}

}  // namespace
