// Searches as R4 means them: https://hl7.org/fhir/R4/search.html (tokens 3.1.1.4.10, references 3.1.1.4.12, prefixes of dates 3.1.1.4.7).
#include <gtest/gtest.h>

#include "fhir_read/search_query.h"

namespace fhir_read {
namespace {

constexpr const char* kTask = R"({"resourceType":"Task","id":"t1","meta":{"lastUpdated":"2026-03-02T19:50:00Z"},"status":"requested","intent":"proposal",
  "identifier":[{"system":"urn:a","value":"1"}],"groupIdentifier":{"system":"urn:g","value":"g1"},
  "code":{"coding":[{"system":"urn:steps","code":"check-site"},{"system":"http://hl7.org/fhir/CodeSystem/task-code","code":"fulfill"}]},
  "for":{"reference":"Patient/a"},"encounter":{"reference":"Encounter/e"},"owner":{"reference":"Organization/ward"},"requester":{"identifier":{"system":"urn:d","value":"x"}},
  "restriction":{"period":{"start":"2026-03-02T20:01:00Z","end":"2026-03-02T20:11:00Z"}}})";

bool found(const char* query) {
  const auto read = parse_search("Task", query, "https://here.example/fhir");
  EXPECT_TRUE(read.has_value()) << query << ": " << (read.has_error() ? read.error() : "");
  return read.has_value() && matches(*read, *json::parse(kTask));
}

TEST(SearchQuery, Tokens) {
  for (const char* yes : {"status=requested", "status=draft,requested", "code=check-site", "code=urn:steps%7Ccheck-site", "code=urn:steps%7C", "code=fulfill", "identifier=urn:a%7C1", "identifier=1",
                          "group-identifier=urn:g|g1", "status:not=completed", "owner:missing=false", "priority:missing=true", "_id=t1", ""})
    EXPECT_TRUE(found(yes)) << yes;
  for (const char* no : {"status=completed", "code=urn:other%7Ccheck-site", "code=%7Ccheck-site", "status:not=requested", "owner:missing=true", "_id=t2", "status=requested&code=sit-up"}) EXPECT_FALSE(found(no)) << no;
}

TEST(SearchQuery, References) {
  for (const char* yes : {"patient=a", "patient=Patient/a", "patient=https://here.example/fhir/Patient/a", "subject=Patient/a", "subject=a", "encounter=e", "encounter:Encounter=e", "owner=Organization/ward"}) EXPECT_TRUE(found(yes)) << yes;
  for (const char* no : {"patient=b", "patient=https://elsewhere.example/fhir/Patient/a", "subject=Group/a", "encounter:EpisodeOfCare=e", "owner=Practitioner/ward"}) EXPECT_FALSE(found(no)) << no;
}

TEST(SearchQuery, DatesByTheirPrefix) {
  // The window is 20:01 to 20:11.
  for (const char* yes : {"restriction-period=2026-03-02", "restriction-period=gt2026-03-02T20:05:00Z", "restriction-period=lt2026-03-02T20:05:00Z", "restriction-period=le2026-03-02T20:05:00%2B00:00",
                          "restriction-period=ge2026-03-02T21:05:00+01:00", "restriction-period=sa2026-03-01", "restriction-period=eb2026-03-02T20:12:00Z", "restriction-period=ne2026-03-01",
                          "_lastUpdated=ge2026-03-02T19:50:00Z", "_lastUpdated=2026-03", "restriction-period=lt2026-03-02T20:05:00Z&restriction-period=gt2026-03-02T20:05:00Z"})
    EXPECT_TRUE(found(yes)) << yes;
  for (const char* no : {"restriction-period=2026-03-01", "restriction-period=gt2026-03-02T20:11:00Z", "restriction-period=lt2026-03-02T20:01:00Z", "restriction-period=sa2026-03-02T20:01:00Z",
                         "restriction-period=eb2026-03-02T20:11:00Z", "_lastUpdated=gt2026-03-02T19:50:00Z", "authored-on=2026-03-02"})
    EXPECT_FALSE(found(no)) << no;
}

TEST(SearchQuery, WhatIsNotKnownIsAFaultAndNeverOverlooked) {
  for (const char* wrong : {"colour=red", "status:near=a", "restriction-period=today", "_count=many", "_sort=owner", "patient=", "_include=Task:patient", "owner.name=x"})
    EXPECT_TRUE(parse_search("Task", wrong, "").has_error()) << wrong;
}

TEST(SearchQuery, SortsByAnInstantAndNeverGivesTwoTheSameKey) {
  auto early = *json::parse(kTask), late = early, none = early;
  late.set("id", "t0").set("restriction", json::Value::object({{"period", json::Value::object({{"start", "2026-03-02T22:00:00+01:00"}})}}));  // 21:00 UTC
  none.set("id", "t3").erase("restriction");
  const auto rising = *parse_search("Task", "_sort=restriction-period", ""), falling = *parse_search("Task", "_sort=-restriction-period", "");
  EXPECT_LT(order_key(rising, early), order_key(rising, late));
  EXPECT_LT(order_key(falling, late), order_key(falling, early));
  EXPECT_LT(order_key(falling, early), order_key(falling, none));
  auto twin = early;
  twin.set("id", "t9");
  EXPECT_NE(order_key(rising, early), order_key(rising, twin));
}

TEST(SearchQuery, KeepsTheQueryForItsLinksWithoutThePageItIsAt) {
  const auto read = parse_search("Task", "patient=a&_count=2&_after=x%01y", "");
  ASSERT_TRUE(read.has_value());
  EXPECT_EQ(read->asked, "patient=a&_count=2");
  EXPECT_EQ(read->after, "x\x01y");
  EXPECT_EQ(patient_of(*read), "Patient/a");
  EXPECT_EQ(percent_decoded(percent_encoded("a|b c\x01%+")), "a|b c\x01%+");
}

}  // namespace
}  // namespace fhir_read
