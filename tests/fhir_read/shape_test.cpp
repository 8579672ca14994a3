// The marks by which a version is told, held against the official definitions of both versions, and what is made of a mixture.
#include "fhir_read/shape.h"

#include "fhir_read/reading_support.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <set>
#include <sstream>

namespace {

using fhir_read::FhirVersion;
namespace fs = std::filesystem;

const fs::path kPackages = fs::path(SOURCE_DIR) / "tests/peer/node_modules";

// Names of the elements right below a type, as its StructureDefinition has them ("effective[x]").
std::set<std::string> elements_of(const std::string& package, const std::string& type) {
  std::ifstream in(kPackages / package / ("StructureDefinition-" + type + ".json"), std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  std::set<std::string> names;
  const auto definition = json::parse(all.str());
  if (!definition) return names;
  for (const auto& element : (*definition)["snapshot"]["element"].items()) {
    const auto path = element["path"].text();
    if (path.starts_with(type + ".") && path.find('.', type.size() + 1) == std::string_view::npos) names.emplace(path.substr(type.size() + 1));
  }
  return names;
}

std::set<std::string> only_in(const std::set<std::string>& a, const std::set<std::string>& b) {
  std::set<std::string> rest;
  std::ranges::set_difference(a, b, std::inserter(rest, rest.end()));
  return rest;
}

TEST(Shape, every_mark_is_in_one_version_and_no_other_element_is) {
  if (!fs::exists(kPackages / "hl7.fhir.r5.examples")) GTEST_SKIP() << "the package hl7.fhir.r5.examples is not installed (tests/peer/install)";
  for (const auto& marks : fhir_read::version_marks()) {
    const auto r4 = elements_of("hl7.fhir.r4.examples", std::string(marks.type));
    const auto r5 = elements_of("hl7.fhir.r5.examples", std::string(marks.type));
    ASSERT_GT(r4.size(), 5u) << marks.type;
    ASSERT_GT(r5.size(), 5u) << marks.type;
    EXPECT_EQ(only_in(r4, r5), std::set<std::string>(marks.r4.begin(), marks.r4.end())) << marks.type << " of R4";
    EXPECT_EQ(only_in(r5, r4), std::set<std::string>(marks.r5.begin(), marks.r5.end())) << marks.type << " of R5";
  }
}

struct Row {
  const char* name;
  const char* resource;
  FhirVersion version;
  bool mixed;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }
class ShapeOf : public testing::TestWithParam<Row> {};

TEST_P(ShapeOf, is_told) {
  const auto shape = fhir_read::shape_of(reading_test::resource(GetParam().resource));
  EXPECT_EQ(shape.version(), GetParam().version);
  EXPECT_EQ(shape.mixed(), GetParam().mixed);
}

INSTANTIATE_TEST_SUITE_P(
    table, ShapeOf,
    testing::Values(
        Row{"performed_is_r4", R"({"resourceType":"Procedure","performedDateTime":"2026-03-02"})", FhirVersion::r4, false},
        Row{"occurrence_is_r5", R"({"resourceType":"Procedure","occurrencePeriod":{}})", FhirVersion::r5, false},
        Row{"occurence_with_one_r_is_r5", R"({"resourceType":"MedicationAdministration","occurenceDateTime":"2026-03-02"})", FhirVersion::r5, false},
        Row{"medication_alone_is_r5", R"({"resourceType":"MedicationAdministration","medication":{"concept":{}}})", FhirVersion::r5, false},
        Row{"medication_with_a_type_is_r4", R"({"resourceType":"MedicationAdministration","medicationReference":{}})", FhirVersion::r4, false},
        Row{"class_as_coding_is_r4", R"({"resourceType":"Encounter","class":{"code":"IMP"}})", FhirVersion::r4, false},
        Row{"class_as_list_is_r5", R"({"resourceType":"Encounter","class":[{"coding":[{"code":"IMP"}]}]})", FhirVersion::r5, false},
        Row{"nothing_tells", R"({"resourceType":"Observation","status":"final"})", FhirVersion::unknown, false},
        Row{"null_tells_nothing", R"({"resourceType":"Procedure","performedDateTime":null,"occurrenceDateTime":"2026-03-02"})", FhirVersion::r5, false},
        Row{"both_times", R"({"resourceType":"Procedure","performedDateTime":"2026-03-02","occurrenceDateTime":"2026-03-02"})", FhirVersion::unknown, true},
        Row{"profile_of_r5", R"({"resourceType":"Observation","meta":{"profile":["http://hl7.org/fhir/5.0/StructureDefinition/Observation"]}})", FhirVersion::r5, false},
        Row{"profile_pinned_to_r4", R"({"resourceType":"Observation","meta":{"profile":["http://hl7.org/fhir/StructureDefinition/Observation|4.0.1"]}})", FhirVersion::r4, false},
        Row{"guide_of_its_own_version", R"({"resourceType":"Observation","meta":{"profile":["http://hl7.org/fhir/us/core/StructureDefinition/us-core-observation-lab|5.0.1"]}})",
            FhirVersion::unknown, false},
        Row{"profile_against_elements", R"({"resourceType":"Procedure","meta":{"profile":["http://hl7.org/fhir/5.0/StructureDefinition/Procedure"]},"performedDateTime":"2026"})",
            FhirVersion::unknown, true}),
    [](const auto& row) { return std::string(row.param.name); });

constexpr const char* kCode = R"("status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://snomed.info/sct","code":"415070008"}]})";

TEST(MixedVersions, two_different_times_are_one_uncertain_time) {
  const auto result = reading_test::read({std::string(R"({"resourceType":"Procedure","id":"p",)") + kCode +
                                          R"(,"performedDateTime":"2026-03-02T10:00:00Z","occurrenceDateTime":"2026-03-02T11:30:00Z"})"});
  ASSERT_EQ(result.record.procedures.size(), 1u);
  EXPECT_EQ(result.record.procedures[0].end, (clinical::Moment{reading_test::instant("2026-03-02T10:00:00Z"), reading_test::instant("2026-03-02T11:30:00Z")}));
  EXPECT_TRUE(reading_test::has_issue(result, "version-mixed")) << reading_test::all_issues(result.issues);
  EXPECT_TRUE(reading_test::has_issue(result, "times-disagree"));
}

TEST(MixedVersions, the_same_time_twice_stays_exact) {
  const auto result = reading_test::read({std::string(R"({"resourceType":"Procedure","id":"p",)") + kCode +
                                          R"(,"performedDateTime":"2026-03-02T10:00:00Z","occurrenceDateTime":"2026-03-02T11:00:00+01:00"})"});
  ASSERT_EQ(result.record.procedures.size(), 1u);
  EXPECT_TRUE(result.record.procedures[0].end->exact());
  EXPECT_TRUE(reading_test::has_issue(result, "version-mixed"));
  EXPECT_FALSE(reading_test::has_issue(result, "times-disagree"));
}

TEST(MixedVersions, a_period_left_open_by_one_of_the_two_is_open) {
  const auto result = reading_test::read({R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},
    "medicationCodeableConcept":{"text":"heparin"},"effectivePeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"},
    "occurencePeriod":{"start":"2026-03-02T10:00:00Z"}})"});
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_TRUE(result.record.administrations[0].start->exact());
  EXPECT_FALSE(result.record.administrations[0].end);
}

TEST(MixedVersions, two_drugs_in_one_administration_are_no_known_drug) {
  const auto result = reading_test::read({R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},
    "medicationCodeableConcept":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AB01"}]},
    "medication":{"concept":{"coding":[{"system":"http://www.whocc.no/atc","code":"B01AE06"}]}},"effectiveDateTime":"2026-03-02T10:00:00Z"})"});
  ASSERT_EQ(result.record.administrations.size(), 1u);
  EXPECT_EQ(result.record.administrations[0].agent, clinical::Agent::unidentified);
  EXPECT_TRUE(reading_test::has_issue(result, "codes-disagree"));
}

// DSTU2 and STU3 say "not" in a member beside a status that reads as done.
TEST(OlderVersions, a_denial_never_reads_as_done) {
  const auto event = [](const char* denial) {
    return std::string(R"({"resourceType":"Procedure","id":"e","status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[
      {"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"sheath-removed"}]},"performedDateTime":"2026-03-02T12:00:00Z")") + denial + "}";
  };
  EXPECT_EQ(reading_test::read({event("")}).record.access_events.size(), 1u);
  EXPECT_EQ(reading_test::read({event(R"(,"notDone":false)")}).record.access_events.size(), 1u);
  for (const char* denial : {R"(,"notDone":true)", R"(,"notPerformed":true)"}) {
    const auto result = reading_test::read({event(denial)});
    EXPECT_TRUE(result.record.access_events.empty()) << denial;
    EXPECT_TRUE(reading_test::has_issue(result, "older-version")) << denial;
  }
  const auto given = reading_test::read({R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","notGiven":true,"subject":{"reference":"Patient/a"},
    "medicationCodeableConcept":{"text":"heparin"},"effectiveDateTime":"2026-03-02T10:00:00Z"})"});
  EXPECT_TRUE(given.record.administrations.empty());
  EXPECT_TRUE(reading_test::has_issue(given, "older-version"));
}

}  // namespace
