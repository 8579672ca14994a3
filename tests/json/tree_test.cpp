#include "json/tree.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using json::Value;

struct NumberRow {
  const char* name;
  const char* digits;
};
void PrintTo(const NumberRow& row, std::ostream* os) { *os << row.name; }

class NumbersKeepTheirDigits : public testing::TestWithParam<NumberRow> {};

TEST_P(NumbersKeepTheirDigits, through_parse_and_write) {
  const std::string text = std::string("{\"value\":") + GetParam().digits + "}";
  const auto parsed = json::parse(text);
  ASSERT_TRUE(parsed.has_value()) << parsed.error().text;
  EXPECT_EQ((*parsed)["value"].digits(), GetParam().digits);
  EXPECT_EQ(json::write(*parsed), text);
}

// FHIR R4, datatypes, decimal: precision as written is significant (https://hl7.org/fhir/R4/datatypes.html#decimal);
// the extreme values are those of the official R4 example Observation/decimal.
INSTANTIATE_TEST_SUITE_P(table, NumbersKeepTheirDigits,
                         testing::Values(NumberRow{"trailing_zeros", "1.00"}, NumberRow{"small_exponent", "1E-22"},
                                         NumberRow{"smallest_example", "1.000000000000000000E-245"},
                                         NumberRow{"most_negative_example", "-1.000000000000000000E+245"},
                                         NumberRow{"binary_artefact", "66.89999999999999"}, NumberRow{"minus_zero", "-0"},
                                         NumberRow{"beyond_int64", "123456789012345678901234567890"}, NumberRow{"lower_case_e", "5e3"}),
                         [](const auto& row) { return row.param.name; });

struct BadRow {
  const char* name;
  std::string text;
  int line;
  int column;
};
void PrintTo(const BadRow& row, std::ostream* os) { *os << row.name; }

class UnsoundTextIsRefused : public testing::TestWithParam<BadRow> {};

TEST_P(UnsoundTextIsRefused, with_its_place) {
  const auto parsed = json::parse(GetParam().text);
  ASSERT_FALSE(parsed.has_value());
  EXPECT_EQ(parsed.error().line, GetParam().line) << parsed.error().text;
  EXPECT_EQ(parsed.error().column, GetParam().column) << parsed.error().text;
  EXPECT_FALSE(parsed.error().too_large);
}

// RFC 8259.
INSTANTIATE_TEST_SUITE_P(table, UnsoundTextIsRefused,
                         testing::Values(BadRow{"empty", "", 1, 1}, BadRow{"trailing_comma", "{\n \"a\": 1,\n}", 3, 1},
                                         BadRow{"two_values", "{} {}", 1, 4}, BadRow{"leading_zero", "[01]", 1, 3},
                                         BadRow{"not_a_number", "[NaN]", 1, 2}, BadRow{"plus_sign", "[+1]", 1, 2},
                                         BadRow{"bad_utf8", "[\"\xFF\"]", 1, 3},
                                         BadRow{"lone_surrogate", R"(["\uD800"])", 1, 3},
                                         BadRow{"nul_after_value", std::string("{}\0{}", 5), 1, 3}),
                         [](const auto& row) { return row.param.name; });

TEST(Json, limits_are_told_apart_from_faults) {
  const std::string deep = std::string(65, '[') + std::string(65, ']');
  EXPECT_TRUE(json::parse(deep).error().too_large);
  EXPECT_TRUE(json::parse(deep.substr(1, 128)).has_value());
  EXPECT_TRUE(json::parse("[1,2,3]", {.bytes = 6}).error().too_large);
  EXPECT_TRUE(json::parse("[1,2,3]", {.values = 3}).error().too_large);
  EXPECT_TRUE(json::parse("[1,2,3]", {.values = 4}).has_value());
}

TEST(Json, a_million_open_brackets_need_no_stack) {
  EXPECT_TRUE(json::parse(std::string(1'000'000, '['), {.depth = 64}).error().too_large);
}

TEST(Json, byte_order_mark_is_skipped_and_offsets_count_it) {
  EXPECT_TRUE(json::parse("\xEF\xBB\xBF{}").has_value());
  EXPECT_EQ(json::parse("\xEF\xBB\xBF!").error().offset, 3u);
}

TEST(Json, repeated_members_are_kept_and_told) {
  const auto parsed = json::parse(R"({"status":"completed","c":[{"x":1},{"x":1,"x":2,"x":3}],"status":"not-done"})");
  ASSERT_TRUE(parsed.has_value());
  EXPECT_THAT(json::repeated_members(*parsed), testing::UnorderedElementsAre("status", "c[1].x"));
  EXPECT_EQ((*parsed)["status"].text(), "completed");
  EXPECT_TRUE(json::repeated_members(Value::object({{"a", 1}})).empty());
}

TEST(Json, order_unknown_members_and_escapes_round_trip) {
  const std::string text = R"({"z":null,"a":[true,false,"\"\\\n\u0001ü"],"unknown":{"k":[]},"e":{}})";
  const auto parsed = json::parse(text);
  ASSERT_TRUE(parsed.has_value());
  EXPECT_EQ(json::write(*parsed), text);
  EXPECT_EQ(*json::parse(json::write_pretty(*parsed)), *parsed);
}

TEST(Json, reading_absent_things_is_null) {
  const Value v = Value::object({{"a", Value::array({1, "x"})}});
  EXPECT_TRUE(v["b"]["c"].at(3)["d"].is_null());
  EXPECT_EQ(v["a"].at(1).text(), "x");
  EXPECT_EQ(v["a"].at(0).integer(), 1);
  EXPECT_EQ(v["a"].at(0).text(), "");
  EXPECT_EQ(v.find("b"), nullptr);
  EXPECT_EQ(Value::decimal("1.0").integer(), std::nullopt);
}

TEST(Json, building) {
  Value v;
  v.set("resourceType", "Task").set("n", 5).set("d", Value::decimal("1.50")).set_present("gone", "").set_present("none", Value::array());
  v.set("list", Value{}.push(true).push(Value::object({{"k", "v"}})));
  v.set("n", 6);
  EXPECT_EQ(json::write(v), R"({"resourceType":"Task","n":6,"d":1.50,"list":[true,{"k":"v"}]})");
  EXPECT_TRUE(v.erase("n"));
  EXPECT_FALSE(v.erase("n"));
  EXPECT_THROW(Value::decimal("01"), std::invalid_argument);
  EXPECT_THROW(Value("text").push(1), std::logic_error);
  EXPECT_NE(Value::decimal("1.0"), Value::decimal("1.00"));
}

}  // namespace
