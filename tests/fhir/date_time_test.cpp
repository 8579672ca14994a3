#include "fhir/date_time.h"

#include <gtest/gtest.h>

#include <ostream>

namespace {

using fhir::TimeFault;
using fhir::ZoneRule;

const ZoneRule kNoZone;
ZoneRule berlin(bool assume = true) { return {fhir::find_zone("Europe/Berlin"), assume}; }

struct Row {
  const char* name;
  const char* text;
  bool in_berlin;
  const char* earliest;  // UTC; empty: a fault
  const char* latest;
  TimeFault fault = TimeFault::not_a_time;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }
class Times : public testing::TestWithParam<Row> {};

TEST_P(Times, are_honest_intervals) {
  const auto& row = GetParam();
  const auto span = fhir::read_time(row.text, row.in_berlin ? berlin() : kNoZone);
  ASSERT_EQ(span.has_value(), *row.earliest != '\0');
  if (!span) {
    EXPECT_EQ(span.error(), row.fault);
    return;
  }
  EXPECT_EQ(fhir::format_utc(span->earliest), row.earliest);
  EXPECT_EQ(fhir::format_utc(span->latest), row.latest);
}

// Lexical forms: FHIR R4 datatypes, dateTime and instant. Berlin: tz database, summer time 2026 from 29 March 02:00 to 25 October 03:00 local.
INSTANTIATE_TEST_SUITE_P(
    table, Times,
    testing::Values(
        Row{"utc", "2026-03-02T14:00:00Z", false, "2026-03-02T14:00:00Z", "2026-03-02T14:00:00Z"},
        Row{"offset", "2026-03-02T14:00:00+05:30", false, "2026-03-02T08:30:00Z", "2026-03-02T08:30:00Z"},
        Row{"negative_offset", "2026-03-02T14:00:00-08:00", false, "2026-03-02T22:00:00Z", "2026-03-02T22:00:00Z"},
        Row{"fraction_is_cut", "2026-03-02T14:00:00.999Z", false, "2026-03-02T14:00:00Z", "2026-03-02T14:00:00Z"},
        Row{"leap_second", "2016-12-31T23:59:60Z", false, "2017-01-01T00:00:00Z", "2017-01-01T00:00:00Z"},
        Row{"no_seconds_spans_the_minute", "2026-03-02T14:05Z", false, "2026-03-02T14:05:00Z", "2026-03-02T14:05:59Z"},
        Row{"space_for_t", "2026-03-02 14:05:00Z", false, "2026-03-02T14:05:00Z", "2026-03-02T14:05:00Z"},
        Row{"day_in_no_zone_spans_every_zone", "2026-03-02", false, "2026-03-01T10:00:00Z", "2026-03-03T11:59:59Z"},
        Row{"day_in_berlin", "2026-03-02", true, "2026-03-01T23:00:00Z", "2026-03-02T22:59:59Z"},
        Row{"short_day_in_berlin", "2026-03-29", true, "2026-03-28T23:00:00Z", "2026-03-29T21:59:59Z"},
        Row{"month", "2026-02", true, "2026-01-31T23:00:00Z", "2026-02-28T22:59:59Z"},
        Row{"year", "2026", true, "2025-12-31T23:00:00Z", "2026-12-31T22:59:59Z"},
        Row{"no_zone_is_refused", "2026-03-02T14:00:00", false, "", "", TimeFault::no_zone},
        Row{"no_zone_assumed_in_berlin", "2026-03-02T14:00:00", true, "2026-03-02T13:00:00Z", "2026-03-02T13:00:00Z"},
        Row{"doubled_hour_is_both", "2026-10-25T02:30:00", true, "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"},
        Row{"skipped_hour_is_none", "2026-03-29T02:30:00", true, "", "", TimeFault::skipped_hour},
        Row{"leap_day", "2024-02-29", true, "2024-02-28T23:00:00Z", "2024-02-29T22:59:59Z"}, Row{"no_leap_day", "2026-02-29", false, "", ""},
        Row{"hour_24", "2026-03-02T24:00:00Z", false, "", ""}, Row{"minute_60", "2026-03-02T14:60:00Z", false, "", ""},
        Row{"second_61", "2026-03-02T14:00:61Z", false, "", ""}, Row{"time_without_day", "2026-03T14:00:00Z", false, "", ""},
        Row{"offset_out_of_range", "2026-03-02T14:00:00+15:00", false, "", ""}, Row{"words", "yesterday", false, "", ""}, Row{"nothing", "", false, "", ""},
        Row{"tail", "2026-03-02T14:00:00Z ", false, "", ""}, Row{"german", "02.03.2026", false, "", ""}, Row{"point_without_digits", "2026-03-02T14:00:00.Z", false, "", ""}),
    [](const auto& row) { return row.param.name; });

TEST(Times, flags) {
  EXPECT_TRUE(fhir::read_time("2026-10-25T02:30:00", berlin())->ambiguous);
  EXPECT_TRUE(fhir::read_time("2026-03-02T14:00:00", berlin())->zone_assumed);
  EXPECT_FALSE(fhir::read_time("2026-03-02T14:00:00Z", berlin())->zone_assumed);
  EXPECT_TRUE(fhir::read_time("2026-03-02T14:00Z")->irregular);
  EXPECT_EQ(fhir::read_time("2026-03-02T14:00:00", berlin(false)).error(), TimeFault::no_zone);
  EXPECT_EQ(fhir::find_zone("Mars/Base"), nullptr);
}

TEST(Times, birth_dates_are_days_of_no_zone) {
  const auto day = fhir::read_utc_date("1958-04-11");
  EXPECT_EQ(fhir::format_utc(day->earliest), "1958-04-11T00:00:00Z");
  EXPECT_EQ(fhir::format_utc(day->latest), "1958-04-11T23:59:59Z");
  EXPECT_EQ(fhir::format_utc(fhir::read_utc_date("1958")->latest), "1958-12-31T23:59:59Z");
  EXPECT_FALSE(fhir::read_utc_date("1958-04-11T00:00:00Z"));
}

TEST(Times, writing_in_a_zone) {
  const auto& zone = *fhir::find_zone("Europe/Berlin");
  const auto winter = fhir::read_time("2026-03-02T14:00:00Z")->earliest;
  EXPECT_EQ(fhir::format_in(winter, zone), "2026-03-02T15:00:00+01:00");
  EXPECT_EQ(fhir::format_in(fhir::read_time("2026-07-02T14:00:00Z")->earliest, zone), "2026-07-02T16:00:00+02:00");
  EXPECT_EQ(fhir::format_in(winter, *fhir::find_zone("America/St_Johns")), "2026-03-02T10:30:00-03:30");
  EXPECT_EQ(fhir::format_local(winter, zone), "2026-03-02 15:00");
}

}  // namespace
