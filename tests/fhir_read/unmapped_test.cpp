// What means nothing here and might matter is told with its codes; what is known to be something else is not. Codes of systems: as in profiles/terminology;
// LOINC 2345-7 (glucose) and SNOMED CT 80146002 (appendectomy) are in use in the official examples.
#include "fhir_read/reading_support.h"

#include <gtest/gtest.h>

namespace {

using reading_test::read;

std::string told(const fhir_read::ReadResult& result) {
  std::string all;
  for (const auto& issue : result.issues)
    if (issue.code.starts_with("unmapped-")) all += std::string(issue.severity == fhir::Severity::warning ? "! " : "- ") + issue.at + " " + issue.code + ": " + issue.text + "\n";
  return all;
}
std::string result_of(const std::string& code, const std::string& more = R"(,"valueQuantity":{"value":141,"code":"s"})") {
  return told(read({R"({"resourceType":"Observation","id":"o","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T12:00:00Z","code":)" + code + more + "}"}));
}
std::string procedure(const std::string& code, const char* status = "completed") {
  return told(read({R"({"resourceType":"Procedure","id":"p","subject":{"reference":"Patient/a"},"performedDateTime":"2026-03-02T12:00:00Z","status":")" + std::string(status) + R"(","code":)" + code + "}"}));
}
std::string local(const char* code, const char* display) { return std::string(R"({"coding":[{"system":"https://hospital.example/codes","code":")") + code + R"(","display":")" + display + R"("}]})"; }

TEST(Unmapped, a_result_that_its_words_give_away_is_a_warning) {
  EXPECT_EQ(result_of(local("K17", "ACT at the bedside")), "! Observation/o.code unmapped-result: https://hospital.example/codes|K17 \"ACT at the bedside\"\n");
  EXPECT_EQ(result_of(R"({"text":"Thrombozyten"})"), "! Observation/o.code unmapped-result: no code \"Thrombozyten\"\n");
  EXPECT_EQ(result_of(R"({"coding":[{"system":"http://loinc.org","code":"99999-9","display":"Platelets in Blood"}]})"), "! Observation/o.code unmapped-result: http://loinc.org|99999-9 \"Platelets in Blood\"\n");
}

TEST(Unmapped, a_result_with_codes_of_the_site_alone_is_listed) {
  EXPECT_EQ(result_of(local("K18", "Kalium")), "- Observation/o.code unmapped-result: https://hospital.example/codes|K18 \"Kalium\"\n");
  EXPECT_EQ(result_of(local("K18", "Kalium"), R"(,"valueQuantity":{"value":4},"category":[{"coding":[{"code":"laboratory"}]}])"), "- Observation/o.code unmapped-result: https://hospital.example/codes|K18 \"Kalium\"\n");
}

TEST(Unmapped, what_is_known_to_be_something_else_or_says_nothing_is_not_told) {
  EXPECT_EQ(result_of(R"({"coding":[{"system":"http://loinc.org","code":"2345-7","display":"Glucose"}]})"), "");
  EXPECT_EQ(result_of(R"({"coding":[{"system":"http://loinc.org","code":"4548-4","display":"Hemoglobin A1c"}]})"), "");
  EXPECT_EQ(result_of(R"({"coding":[{"system":"http://loinc.org","code":"3184-9"},{"system":"https://hospital.example/codes","code":"K17"}]})"), "") << "mapped by the other code";
  EXPECT_EQ(result_of(local("K17", "ACT at the bedside"), ""), "") << "no value at all";
  EXPECT_EQ(result_of(local("S1", "smokes"), R"(,"valueBoolean":true,"category":[{"coding":[{"code":"social-history"}]}])"), "");
}

TEST(Unmapped, procedures) {
  EXPECT_EQ(procedure(local("P1", "Percutaneous closure of a defect")), "! Procedure/p.code unmapped-procedure: https://hospital.example/codes|P1 \"Percutaneous closure of a defect\"\n");
  EXPECT_EQ(procedure(local("P2", "Physiotherapy")), "- Procedure/p.code unmapped-procedure: https://hospital.example/codes|P2 \"Physiotherapy\"\n");
  EXPECT_EQ(procedure(R"({"coding":[{"system":"http://snomed.info/sct","code":"80146002","display":"Appendectomy"}]})"), "");
  EXPECT_EQ(procedure(local("P1", "Percutaneous closure of a defect"), "not-done"), "");
  EXPECT_EQ(procedure(local("P3", "Urinary catheterisation")), "- Procedure/p.code unmapped-procedure: https://hospital.example/codes|P3 \"Urinary catheterisation\"\n") << "listed, and no warning";
}

TEST(Unmapped, drugs_with_all_their_codes) {
  const auto given = [](const std::string& medication) {
    return told(read({R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",)" + medication + "}"}));
  };
  EXPECT_EQ(given(R"("medicationCodeableConcept":)" + local("4711", "HEP-NA 25T")), "- MedicationAdministration/m.medication unmapped-drug: https://hospital.example/codes|4711 \"HEP-NA 25T\"\n");
  EXPECT_EQ(given(R"("contained":[{"resourceType":"Medication","id":"x","ingredient":[{"itemCodeableConcept":)" + local("a", "A") + R"(},{"itemCodeableConcept":)" + local("b", "B") + R"(}]}],"medicationReference":{"reference":"#x"})"),
            "- MedicationAdministration/m.medication unmapped-drug: https://hospital.example/codes|a \"A\"; https://hospital.example/codes|b \"B\"\n");
  EXPECT_EQ(given(R"("medicationCodeableConcept":{"text":"heparin"})"), "");
}

}  // namespace
