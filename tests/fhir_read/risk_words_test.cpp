// Findings that change the plan, as the six languages and the classifications tell them. ICD-10 as in profiles/terminology/risks.toml (WHO version, the German and the United
// States' modification, from memory); the words: common practice, no source. Clinical model, Scope (pregnancy), argatroban row (liver), "Graft: access is ask",
// "unstable creatinine: no clock alone". Everything invented.
#include "fhir_read/planned_support.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;
using clinical::Analyte;
using clinical::RiskKind;

constexpr const char *kWho = "http://hl7.org/fhir/sid/icd-10", *kUs = "http://hl7.org/fhir/sid/icd-10-cm", *kGerman = "http://fhir.de/CodeSystem/bfarm/icd-10-gm";

std::string said(std::string_view words) { return fmt::format(R"({{"text":"{}"}})", words); }
std::string coded(const char* system, const char* code, const char* more = "") { return fmt::format(R"({{"coding":[{{"system":"{}","code":"{}"{}}}]}})", system, code, more); }
std::string condition(const std::string& code, const std::string& more = "") {
  return fmt::format(R"({{"resourceType":"Condition","id":"c","subject":{{"reference":"Patient/a"}},"clinicalStatus":{{"coding":[{{"code":"active"}}]}},{}"code":{}}})", more, code);
}
bool has(const fhir_read::ReadResult& result, RiskKind kind) {
  return std::ranges::any_of(result.record.risks, [&](const clinical::Risk& r) { return r.kind == kind && r.present; });
}
bool tells(const std::string& code, RiskKind kind) { return has(read({condition(code)}), kind); }

struct Told {
  RiskKind kind;
  std::vector<std::string> yes, no;
};

TEST(RiskWords, each_finding_in_six_languages_and_denied) {
  const Told all[] = {
      {RiskKind::pregnancy,
       {"Pregnancy, 20 weeks", "Schwangerschaft, 20. SSW", "Schwanger", "Grossesse 20 SA", "Patiente enceinte", "Embarazo de 20 semanas", "Ciąża 20 tydzień", "حمل", "Positive pregnancy test"},
       {"Not pregnant", "keine Schwangerschaft", "Schwangerschaft ausgeschlossen", "Schwangerschaft: nein", "Pas de grossesse", "No embarazada", "Nie jest w ciąży", "ليست حامل", "Pregnancy test negative",
        "Schwangerschaftstest negativ", "Pregnancy ruled out"}},
      {RiskKind::liver_disease,
       {"Liver cirrhosis Child B", "Leberzirrhose", "Leberinsuffizienz", "Cirrhose hépatique", "Cirrosis", "Marskość wątroby", "تشمع الكبد", "Hepatitis C, chronic"},
       {"no cirrhosis", "Leberzirrhose ausgeschlossen", "Ausschluss einer Leberzirrhose", "keine Leberinsuffizienz", "Pas de cirrhose", "Sin cirrosis", "Bez marskości wątroby", "Fatty liver", "Fettleber"}},
      {RiskKind::heparin_induced_thrombocytopenia,
       {"Heparin-induced thrombocytopenia", "HIT II", "Heparininduzierte Thrombozytopenie", "Thrombopénie induite par l'héparine", "Trombocitopenia inducida por heparina", "Małopłytkowość poheparynowa"},
       {"No HIT II", "HIT II ausgeschlossen", "Hit by a car"}},
      {RiskKind::graft,
       {"Right femoropopliteal bypass graft", "Z.n. femoro-poplitealem Bypass rechts", "Femoro-poplitealer Bypass", "Aortofemoral bypass graft right", "Pontage fémoro-poplité", "Bypass aortobifemoral", "Pomost udowo-podkolanowy"},
       {"Coronary bypass graft", "Aortocoronarer Bypass", "Kein femoro-poplitealer Bypass", "Femoropopliteal occlusion"}},
      {RiskKind::bleeding_disorder,
       {"Haemophilia A", "Hämophilie A", "Von-Willebrand-Syndrom", "Hémophilie", "Hemofilia A", "Choroba von Willebranda", "الناعور", "Skaza krwotoczna"},
       {"No haemophilia", "Keine Gerinnungsstörung", "Family history of haemophilia", "Sans trouble de la coagulation"}}};
  for (const auto& [kind, yes, no] : all) {
    for (const auto& words : yes) EXPECT_TRUE(tells(said(words), kind)) << words;
    for (const auto& words : no) EXPECT_FALSE(tells(said(words), kind)) << words;
  }
  const auto both = read({condition(said("Leberzirrhose, keine Schwangerschaft, Z.n. femoro-poplitealem Bypass links"))});
  EXPECT_TRUE(has(both, RiskKind::liver_disease));
  EXPECT_TRUE(has(both, RiskKind::graft)) << "a text may name several";
  EXPECT_FALSE(has(both, RiskKind::pregnancy));
}

TEST(RiskWords, each_finding_by_its_category) {
  for (const auto& code : {coded(kGerman, "Z33"), coded(kWho, "O26.9"), coded(kUs, "Z33.1"), coded(kUs, "Z3A.20"), coded(kUs, "O09.90"), coded(kUs, "Z32.01")}) EXPECT_TRUE(tells(code, RiskKind::pregnancy)) << code;
  for (const auto& code : {coded(kUs, "Z32.02"), coded(kWho, "O80"), coded(kWho, "Z30")}) EXPECT_FALSE(tells(code, RiskKind::pregnancy)) << code;
  for (const auto& code : {coded(kGerman, "K74.6"), coded(kUs, "K74.60"), coded(kWho, "B18.2"), coded(kWho, "K72.9")}) EXPECT_TRUE(tells(code, RiskKind::liver_disease)) << code;
  for (const auto& code : {coded(kUs, "K76.0"), coded(kWho, "K70.0"), coded(kWho, "K80")}) EXPECT_FALSE(tells(code, RiskKind::liver_disease)) << code;
  for (const auto& code : {coded(kGerman, "D69.53"), coded(kUs, "D75.82"), coded(kUs, "D75.821")}) EXPECT_TRUE(tells(code, RiskKind::heparin_induced_thrombocytopenia)) << code;
  for (const auto& code : {coded(kGerman, "D66"), coded(kWho, "D68.0"), coded(kWho, "D69.3")}) EXPECT_TRUE(tells(code, RiskKind::bleeding_disorder)) << code;
  EXPECT_FALSE(tells(coded(kWho, "D68.5"), RiskKind::bleeding_disorder)) << "thrombophilia";
  EXPECT_FALSE(tells(coded(kGerman, "K74.6", R"(,"extension":[{"url":"http://fhir.de/StructureDefinition/icd-10-gm-diagnosesicherheit","valueCoding":{"code":"A"}}])"), RiskKind::liver_disease)) << "coded as ruled out";
  EXPECT_FALSE(has(read({condition(coded(kGerman, "K74.6"), R"("verificationStatus":{"coding":[{"code":"refuted"}]},)")}), RiskKind::liver_disease));
}

TEST(RiskWords, a_pregnancy_test_and_a_graft_that_was_put_in) {
  const auto test = [](const char* loinc, const char* value) {
    return read({fmt::format(R"({{"resourceType":"Observation","id":"o","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T07:00:00Z",
      "code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},{}}})", loinc, value)});
  };
  for (const char* value : {R"("valueString":"positive")", R"("valueCodeableConcept":{"text":"positiv"})", R"("valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"10828004"}]})"})
    EXPECT_TRUE(has(test("2106-3", value), RiskKind::pregnancy)) << value;
  for (const char* value : {R"("valueString":"negative")", R"("valueString":"not detected")", R"("valueCodeableConcept":{"coding":[{"system":"http://snomed.info/sct","code":"260385009"}]})"})
    EXPECT_FALSE(has(test("2118-8", value), RiskKind::pregnancy)) << value;
  const auto done = [](const char* status) {
    return read({fmt::format(R"({{"resourceType":"Procedure","id":"old","status":"{}","subject":{{"reference":"Patient/a"}},"performedDateTime":"2019-05-05","code":{{"text":"Right femoropopliteal bypass graft"}}}})", status)});
  };
  EXPECT_TRUE(has(done("completed"), RiskKind::graft));
  EXPECT_EQ(done("completed").record.risks.at(0).side, clinical::Side::unknown) << "no bodySite: it counts for both groins";
  EXPECT_FALSE(has(done("not-done"), RiskKind::graft));
  EXPECT_EQ(gate(planned(base_case() + std::vector<std::string>{condition(said("Z.n. femoro-poplitealem Bypass"))}, "2026-03-02T12:00:00Z"), clinical::GateName::access)->state, clinical::GateState::ask);
}

// KDIGO: an estimated rate under 60 mL/min is impaired (chronic kidney disease guideline 2012, from memory).
TEST(RiskWords, failing_kidneys_make_an_older_creatinine_worthless) {
  const auto value = [](const char* id, const char* loinc, const char* number, const char* unit, const char* at) {
    return fmt::format(R"({{"resourceType":"Observation","id":"{}","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T{}:00Z","code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},
      "valueQuantity":{{"value":{},"system":"http://unitsofmeasure.org","code":"{}"}}}})", id, at, loinc, number, unit);
  };
  const auto kidneys = [&](const std::vector<std::string>& more) {
    return planned(base_case() + std::vector<std::string>{value("kg", "29463-7", "80", "kg", "08:10"), value("cm", "8302-2", "178", "cm", "08:10"), value("crea", "2160-0", "0.9", "mg/dL", "08:10")} + more,
                   "2026-03-02T12:00:00Z").plan.clearance.has_value();
  };
  EXPECT_TRUE(kidneys({}));
  for (const auto& code : {said("Akutes Nierenversagen"), said("Acute kidney injury"), said("Insuffisance rénale aiguë"), said("Insuficiencia renal aguda"), said("Ostra niewydolność nerek"), said("فشل كلوي حاد"), coded(kGerman, "N17.9")}) {
    EXPECT_FALSE(kidneys({condition(code)})) << code;
    EXPECT_TRUE(kidneys({condition(code, R"("verificationStatus":{"coding":[{"code":"refuted"}]},)")})) << code;
    EXPECT_TRUE(kidneys({condition(code, R"("abatementDateTime":"2025-01-01",)")})) << code;
    EXPECT_TRUE(kidneys({condition(code, R"("recordedDate":"2026-02-20",)")})) << "the creatinine is newer: " << code;
  }
  EXPECT_TRUE(kidneys({condition(said("Kein akutes Nierenversagen"))}));
  EXPECT_FALSE(kidneys({value("egfr", "62238-1", "15", "mL/min/{1.73_m2}", "10:30")}));
  EXPECT_TRUE(kidneys({value("egfr", "62238-1", "95", "mL/min/{1.73_m2}", "10:30")}));
  EXPECT_TRUE(kidneys({value("egfr", "62238-1", "55", "mL/min/{1.73_m2}", "08:10")})) << "of the same draw";
  EXPECT_TRUE(kidneys({value("egfr", "62238-1", "15", "mL/min/{1.73_m2}", "10:30"), value("crea2", "2160-0", "0.9", "mg/dL", "11:00")})) << "a newer creatinine speaks for itself";
}

}  // namespace
