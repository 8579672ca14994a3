// Dialysis by every way in which it is told. Everything invented; the codes as in profiles/terminology/risks.toml.
#include "fhir_read/planned_support.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;

constexpr const char* kDuring = "2026-03-02T12:00:00Z";  // sheath in

std::string service(const std::string& code, const std::string& more, const char* status = "active") {
  return R"({"resourceType":"ServiceRequest","id":"sr","intent":"order","subject":{"reference":"Patient/a"},"authoredOn":"2026-03-02T11:10:00Z","status":")" + std::string(status) +
         R"(","code":)" + code + more + "}";
}

TEST(DialysisPlan, it_is_seen_as_condition_procedure_and_order_by_code_and_by_words) {
  const auto has_risk = [](const std::string& resource) {
    const auto p = planned(base_case() + std::vector{resource}, kDuring);
    return std::ranges::any_of(p.read.record.risks, [](const clinical::Risk& r) { return r.kind == clinical::RiskKind::dialysis && r.present; });
  };
  const auto condition = [](const std::string& code) { return R"({"resourceType":"Condition","id":"c","subject":{"reference":"Patient/a"},"clinicalStatus":{"coding":[{"code":"active"}]},"code":)" + code + "}"; };
  const auto done = [](const std::string& code, const char* status = "completed") {
    return std::string(R"({"resourceType":"Procedure","id":"hd","subject":{"reference":"Patient/a"},"performedDateTime":"2026-02-28T10:00:00Z","status":")") + status + R"(","code":)" + code + "}";
  };
  const auto coded = [](const char* system, const char* code) { return std::string(R"({"coding":[{"system":")") + system + R"(","code":")" + code + R"("}]})"; };
  const auto said = [](const char* words) { return std::string(R"({"text":")") + words + "\"}"; };
  const char *who = "http://hl7.org/fhir/sid/icd-10", *us = "http://hl7.org/fhir/sid/icd-10-cm", *german = "http://fhir.de/CodeSystem/bfarm/icd-10-gm";
  for (const auto& code : {coded(us, "N18.6"), coded("urn:oid:2.16.840.1.113883.6.90", "Z99.2"), coded(who, "Z99.2"), coded(who, "N18.5"), coded(german, "N18.5"), coded("http://fhir.de/CodeSystem/dimdi/icd-10-gm", "Z49.1"), coded(us, "Z49.31"),
                           said("Dialysepflichtige Niereninsuffizienz"), said("CHRONISCHE HÄMODIALYSE"), said("Insuffisance rénale terminale, dialysée"), said("Enfermedad renal en hemodiálisis"), said("Schyłkowa niewydolność nerek, dializoterapia"),
                           said("مريض على غسيل الكلى"), said("ESRD on dialysis, not a transplant candidate"), said("HD-Patient"), said("CKD 5D"), said("CKD G5D"), said("N18.6"), said("Refused dialysis today"), said("chronic kidney disease stage 5D"), said("Niereninsuffizienz KDIGO G5")})
    EXPECT_TRUE(has_risk(condition(code))) << code;
  for (const auto& code : {coded(us, "N18.5"), coded(us, "N18.4"), coded(who, "N18"), coded(who, "Z98.2"), said("No dialysis"), said("Dialyse: nein, keine"), said("Sans dialyse"), said("Dialysis refused"), said("Keine Dialyse"), said("Dialyse abgelehnt"), said("CKD G3b"), said("CKD stage 4"), said("Chronic kidney disease stage 3")})
    EXPECT_FALSE(has_risk(condition(code))) << code;
  const auto display = std::string(R"({"coding":[{"system":"http://snomed.info/sct","code":"302497006","display":"Hemodialysis"}]})");
  for (const auto& code : {display, said("Haemodialysis"), coded("http://fhir.de/CodeSystem/bfarm/ops", "8-854.2"), coded("http://www.cms.gov/Medicare/Coding/ICD10", "5A1D70Z")}) {
    EXPECT_TRUE(has_risk(done(code))) << code;
    EXPECT_TRUE(has_risk(service(code, ""))) << code;
    EXPECT_FALSE(has_risk(done(code, "not-done"))) << code;
    EXPECT_FALSE(has_risk(service(code, "", "revoked"))) << code;
    EXPECT_FALSE(has_risk(service(code, R"(,"doNotPerform":true)"))) << code;
  }
}

}  // namespace
