// Which puncture a resource speaks of: partOf or focus may name the case, one of its sites, or an event there.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "fhir_read/reading_support.h"

namespace {

constexpr const char* kBase = "https://aftersheath.example/fhir";

std::string procedure(std::string_view id, std::string_view part_of, std::string_view code) {
  const std::string part = part_of.empty() ? "" : fmt::format(R"("partOf":[{{"reference":"Procedure/{}"}}],)", part_of);
  return fmt::format(R"({{"resourceType":"Procedure","id":"{}","status":"completed","subject":{{"reference":"Patient/a"}},{}"code":{{"coding":[{}]}},"performedDateTime":"2026-03-02T12:00:00Z",
    "extension":[{{"url":"{}/StructureDefinition/femoral-access","valueBoolean":true}}]}})", id, part, code, kBase);
}
const std::string kCase = procedure("case", "", R"({"system":"http://snomed.info/sct","code":"41976001"})");
const std::string kSite = procedure("site", "case", R"({"system":"http://snomed.info/sct","code":"41976001"})");
const std::string kEvent = procedure("event", "site", fmt::format(R"({{"system":"{}/CodeSystem/access-event","code":"sheath-removed"}})", kBase));

std::string observation(std::string_view pointers, std::string_view code = "site-check", std::string_view value = "") {
  return fmt::format(R"({{"resourceType":"Observation","id":"c","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T15:00:00Z",{}{}
    "code":{{"coding":[{{"system":"{}/CodeSystem/check-finding","code":"{}"}}]}}}})", pointers, value, kBase, code);
}
std::string read_with(std::string_view pointers) {
  const auto result = reading_test::read({kCase, kSite, kEvent, observation(pointers)});
  EXPECT_EQ(result.record.checks.size(), 1U);
  return result.record.checks.empty() ? "" : result.record.checks.front().procedure;
}

TEST(NamedProcedure, TheSiteRatherThanTheCase) {
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/case"}],)"), "Procedure/case");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/site"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/case"},{"reference":"Procedure/site"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/site"},{"reference":"Procedure/case"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/case"}],"focus":[{"reference":"Procedure/site"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("focus":[{"reference":"Procedure/site"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("focus":[{"reference":"Device/x"}],)"), "");
}

TEST(NamedProcedure, AnEventStandsForItsSite) {
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/event"}],)"), "Procedure/site");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/case"},{"reference":"Procedure/event"}],)"), "Procedure/site");
}

TEST(NamedProcedure, OneThatIsNotHeldIsKeptAsWritten) {
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/elsewhere"}],)"), "Procedure/elsewhere");
  EXPECT_EQ(read_with(R"("partOf":[{"reference":"Procedure/elsewhere"},{"reference":"Procedure/site"}],)"), "Procedure/site");
}

TEST(SingleFinding, UrineOnItsOwnIsAFact) {
  const auto passed = reading_test::read({kCase, observation("", "voided", R"("valueBoolean":true,)")});
  ASSERT_EQ(passed.record.checks.size(), 1U) << reading_test::all_issues(passed.issues);
  EXPECT_EQ(passed.record.checks.front().voided, true);
  EXPECT_FALSE(passed.record.checks.front().of_a_groin());
  EXPECT_FALSE(passed.record.checks.front().complete());
  const auto scan = reading_test::read({kCase, observation("", "bladder-volume", R"("valueQuantity":{"value":320,"system":"http://unitsofmeasure.org","code":"mL"},)")});
  ASSERT_EQ(scan.record.checks.size(), 1U);
  ASSERT_TRUE(scan.record.checks.front().bladder);
  EXPECT_EQ(scan.record.checks.front().bladder->micro, clinical::whole(320));
  const auto no_unit = reading_test::read({kCase, observation("", "bladder-volume", R"("valueQuantity":{"value":320},)")});
  EXPECT_FALSE(no_unit.record.checks.empty() || no_unit.record.checks.front().bladder);
  EXPECT_FALSE(no_unit.issues.empty());
  const auto bled = reading_test::read({kCase, observation("", "bleeding", fmt::format(R"("valueCodeableConcept":{{"coding":[{{"system":"{}/CodeSystem/check-finding","code":"bleeding"}}]}},)", kBase))});
  ASSERT_EQ(bled.record.checks.size(), 1U);
  EXPECT_EQ(bled.record.checks.front().bleeding, clinical::Bleeding::bleeding);
}

TEST(Haemostasis, AsAnObservationNamesItsSideAndSite) {
  const auto result = reading_test::read({kCase, kSite, R"({"resourceType":"Observation","id":"h","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T15:00:00Z",
    "partOf":[{"reference":"Procedure/case"},{"reference":"Procedure/site"}],"bodySite":{"coding":[{"system":"http://snomed.info/sct","code":"113270003"}]},
    "code":{"coding":[{"system":"http://dicom.nema.org/resources/ontology/DCM","code":"122033"}]}})"});
  ASSERT_EQ(result.record.access_events.size(), 1U) << reading_test::all_issues(result.issues);
  EXPECT_EQ(result.record.access_events.front().procedure, "Procedure/site");
  EXPECT_EQ(result.record.access_events.front().side, clinical::Side::left);
}

}  // namespace
