// Versions across resources. The parameter: https://hl7.org/fhir/R4/http.html#version-parameter; elements as in shape_test.cpp.
#include "fhir_read/versions.h"

#include "fhir_read/intake.h"
#include "fhir_read/reading_support.h"

#include <gtest/gtest.h>

namespace {

using fhir_read::FhirVersion;

const char* kR4 = R"({"resourceType":"Procedure","id":"a","performedDateTime":"2026-03-02"})";
const char* kR5 = R"({"resourceType":"MedicationAdministration","id":"b","occurenceDateTime":"2026-03-02"})";
const char* kEither = R"({"resourceType":"Observation","id":"c","effectiveDateTime":"2026-03-02"})";

TEST(Versions, names_of_the_parameter) {
  for (const char* r4 : {"4.0", "4.0.1", "4.3", "4.3.0"}) EXPECT_EQ(fhir_read::version_named(r4), FhirVersion::r4) << r4;
  for (const char* r5 : {"5.0", "5.0.0"}) EXPECT_EQ(fhir_read::version_named(r5), FhirVersion::r5) << r5;
  for (const char* other : {"", "3.0", "4", "4.01", "50", "6.0"}) EXPECT_EQ(fhir_read::version_named(other), FhirVersion::unknown) << other;
}

TEST(Versions, a_body_of_another_version_than_the_sender_names_is_an_issue) {
  const auto at = [](const char* text, FhirVersion named) {
    const auto issue = fhir_read::other_version(reading_test::resource(text), named, "X/1");
    return issue ? issue->code + " " + issue->at : std::string();
  };
  EXPECT_EQ(at(kR4, FhirVersion::r5), "version-mixed X/1.performedDateTime");
  EXPECT_EQ(at(kR5, FhirVersion::r4), "version-mixed X/1.occurenceDateTime");
  EXPECT_EQ(at(kR4, FhirVersion::r4) + at(kR5, FhirVersion::r5) + at(kEither, FhirVersion::r5) + at(kR5, FhirVersion::unknown), "");
}

TEST(Versions, a_bundle_that_mixes_them_is_an_issue_and_read_all_the_same) {
  const auto bundle = [](std::initializer_list<const char*> entries) {
    std::string all;
    for (const char* one : entries) all += (all.empty() ? "" : ",") + std::string(R"({"resource":)") + one + "}";
    return fhir_read::entries_of(reading_test::resource(R"({"resourceType":"Bundle","type":"collection","entry":[)" + all + "]}"));
  };
  const auto mixed = bundle({kEither, kR4, kR5});
  EXPECT_EQ(mixed.events.size(), 3u);
  ASSERT_EQ(mixed.issues.size(), 1u);
  EXPECT_EQ(mixed.issues[0].code, "version-mixed");
  EXPECT_EQ(mixed.issues[0].at, "Bundle.entry[2]");
  EXPECT_TRUE(bundle({kEither, kR4, kR4}).issues.empty());
  EXPECT_TRUE(bundle({kR5, kEither}).issues.empty());
}

}  // namespace
