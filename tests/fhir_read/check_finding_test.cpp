// Every finding of a check as it may be written, and as it must not be taken: what is absent, out of range or of another code is not "no".
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "clinical/gates.h"
#include "fhir_read/reading_support.h"

namespace {

using clinical::Bleeding;
using clinical::FootPulse;
using clinical::SiteCheck;

constexpr const char* kSystem = "https://aftersheath.example/fhir/CodeSystem/check-finding";

std::string component(std::string_view what, std::string_view value) {
  return fmt::format(R"({{"code":{{"coding":[{{"system":"{}","code":"{}"}}]}}{}{}}})", kSystem, what, value.empty() ? "" : ",", value);
}
std::string coded(std::string_view code) { return fmt::format(R"("valueCodeableConcept":{{"coding":[{{"system":"{}","code":"{}"}}]}})", kSystem, code); }
std::string quantity(std::string_view value, std::string_view unit) {
  if (unit.empty()) return fmt::format(R"("valueQuantity":{{"value":{}}})", value);
  return fmt::format(R"("valueQuantity":{{"value":{},"system":"http://unitsofmeasure.org","code":"{}"}})", value, unit);
}

fhir_read::ReadResult read_check(const std::string& components) {
  return reading_test::read({fmt::format(R"({{"resourceType":"Observation","id":"c","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T15:00:00Z",
    "code":{{"coding":[{{"system":"{}","code":"site-check"}}]}},"component":[{}]}})", kSystem, components)});
}
struct Said {
  SiteCheck check;
  std::string issue;   // the code of the one issue; empty: none
};
Said said(std::string_view what, const std::string& value) {
  const auto result = read_check(component(what, value));
  Said out;
  EXPECT_EQ(result.record.checks.size(), 1u) << what;
  if (!result.record.checks.empty()) out.check = result.record.checks.front();
  for (const auto& issue : result.issues) out.issue += (out.issue.empty() ? "" : " ") + issue.code;
  return out;
}

constexpr const char* kAbsent = R"("dataAbsentReason":{"text":"not looked at"})";

TEST(CheckFinding, BleedingAndFootPulse) {
  EXPECT_EQ(said("bleeding", coded("none")).check.bleeding, Bleeding::none);
  EXPECT_EQ(said("bleeding", coded("ooze")).check.bleeding, Bleeding::ooze);
  EXPECT_EQ(said("bleeding", coded("bleeding")).check.bleeding, Bleeding::bleeding);
  EXPECT_EQ(said("foot-pulse", coded("as-baseline")).check.foot_pulse, FootPulse::as_baseline);
  EXPECT_EQ(said("foot-pulse", coded("weaker")).check.foot_pulse, FootPulse::weaker);
  EXPECT_EQ(said("foot-pulse", coded("absent")).check.foot_pulse, FootPulse::absent);
  for (const auto* what : {"bleeding", "foot-pulse"})
    for (const auto& value : {coded("2-plus"), std::string(R"("valueBoolean":false)"), std::string()}) {
      const auto found = said(what, value);
      EXPECT_FALSE(found.check.bleeding || found.check.foot_pulse) << what << value;
      EXPECT_EQ(found.issue, "unknown-code") << what << value;
    }
  EXPECT_EQ(said("bleeding", kAbsent).issue, "absent");
}

TEST(CheckFinding, SwellingInCentimetres) {
  EXPECT_EQ(said("swelling", quantity("0", "cm")).check.swelling->micro, 0);
  EXPECT_EQ(said("swelling", quantity("4.999999", "cm")).check.swelling->micro, 4'999'999);
  EXPECT_EQ(said("swelling", quantity("50", "mm")).check.swelling->micro, clinical::whole(5));
  for (const auto& value : {quantity("3", ""), quantity("3", "kg"), std::string(R"("valueString":"egg")"), std::string(kAbsent)}) {
    EXPECT_FALSE(said("swelling", value).check.swelling) << value;
    EXPECT_NE(said("swelling", value).issue, "") << value;
  }
}

TEST(CheckFinding, FootAndLegAgainstTheBaseline) {
  const std::pair<const char*, std::optional<FootPulse> SiteCheck::*> compared[] = {
      {"colour", &SiteCheck::colour}, {"warmth", &SiteCheck::warmth}, {"feeling", &SiteCheck::feeling}, {"movement", &SiteCheck::movement}};
  for (const auto& [what, member] : compared) {
    EXPECT_EQ(said(what, coded("as-baseline")).check.*member, FootPulse::as_baseline) << what;
    EXPECT_EQ(said(what, coded("weaker")).check.*member, FootPulse::weaker) << what;
    EXPECT_EQ(said(what, coded("absent")).check.*member, FootPulse::absent) << what;
    const auto words = said(what, R"("valueString":"pale")");
    EXPECT_FALSE(words.check.*member) << what;
    EXPECT_EQ(words.issue, "not-judged") << what;
  }
}

TEST(CheckFinding, YesNoAndNotRecorded) {
  const std::pair<const char*, std::optional<bool> SiteCheck::*> flags[] = {
      {"growth", &SiteCheck::growth}, {"chest-pain", &SiteCheck::chest_pain}, {"neurological-sign", &SiteCheck::neurological_sign}, {"mass-or-bruit", &SiteCheck::mass_or_bruit},
      {"skin-damage", &SiteCheck::skin_damage}, {"dizziness", &SiteCheck::dizziness}, {"voided", &SiteCheck::voided}};
  for (const auto& [what, member] : flags) {
    EXPECT_EQ(said(what, R"("valueBoolean":true)").check.*member, true) << what;
    EXPECT_EQ(said(what, R"("valueBoolean":false)").check.*member, false) << what;
    EXPECT_FALSE((said(what, kAbsent).check.*member).has_value()) << what;
    EXPECT_EQ(said(what, kAbsent).issue, "absent") << what;
    EXPECT_FALSE((said(what, R"("valueString":"no")").check.*member).has_value()) << what;
    EXPECT_EQ(said(what, R"("valueString":"no")").issue, "unknown-code") << what;
  }
  EXPECT_TRUE(said("wet-dressing", R"("valueBoolean":true)").check.wet_dressing);
  EXPECT_FALSE(said("wet-dressing", R"("valueBoolean":false)").check.wet_dressing);
  EXPECT_TRUE(said("back-pain", R"("valueBoolean":true)").check.back_pain);
}

TEST(CheckFinding, PainIsAScoreFromNoughtToTen) {
  for (const auto& [value, micro] : {std::pair(std::string(R"("valueInteger":0)"), clinical::whole(0)), {R"("valueInteger":10)", clinical::whole(10)},
                                     {quantity("6.5", "{score}"), 6'500'000}, {quantity("7", ""), clinical::whole(7)}}) {
    const auto found = said("pain", value);
    ASSERT_TRUE(found.check.pain) << value;
    EXPECT_EQ(found.check.pain->micro, micro) << value;
    EXPECT_EQ(found.issue, "") << value;
  }
  for (const auto& value : {std::string(R"("valueInteger":11)"), std::string(R"("valueInteger":-1)"), quantity("10.000001", ""), std::string(R"("valueString":"bad")"), std::string()}) {
    EXPECT_FALSE(said("pain", value).check.pain) << value;
    EXPECT_EQ(said("pain", value).issue, "unknown-code") << value;
  }
  EXPECT_EQ(said("pain", kAbsent).issue, "absent");
}

TEST(CheckFinding, BladderInMillilitres) {
  EXPECT_EQ(said("bladder-volume", quantity("300", "mL")).check.bladder->micro, clinical::whole(300));
  EXPECT_EQ(said("bladder-volume", quantity("0.5", "L")).check.bladder->micro, clinical::whole(500));
  EXPECT_FALSE(said("bladder-volume", quantity("300", "")).check.bladder);
  EXPECT_NE(said("bladder-volume", quantity("300", "")).issue, "");
}

TEST(CheckFinding, PulsesStayWhatTheyWere) {
  const auto result = read_check(component("baseline-pulses", R"("valueString":"DP 2+ left")") + "," + component("baseline-pulses", R"("valueString":"PT Doppler")") + "," +
                                 component("pulse-scale", R"("valueString":"0 to 3")") + "," + component("pulses", R"("valueString":"DP 1+")"));
  const auto& check = result.record.checks.at(0);
  EXPECT_EQ(check.baseline_pulses, "DP 2+ left; PT Doppler");
  EXPECT_EQ(check.pulse_scale, "0 to 3");
  EXPECT_EQ(check.pulses, "DP 1+");
  EXPECT_FALSE(check.foot_pulse) << "a number on a scale is not judged";
}

// What cannot be read is named to the sender: a slip in a code is not a finding of "nothing".
TEST(CheckFinding, ACodeThatIsNoFindingIsNamed) {
  for (const auto* slip : {"bleed", "chest-pains", "none"}) {
    const auto found = said(slip, R"("valueBoolean":true)");
    EXPECT_EQ(found.issue, "unknown-code") << slip;
    EXPECT_FALSE(found.check.complete());
  }
}

// SNOMED CT 373066001 "Yes (qualifier value)", 373067005 "No (qualifier value)"; HL7 table 0136: Y and N.
TEST(CheckFinding, ACodedYesIsAYes) {
  const auto of = [](std::string_view system, std::string_view code) { return fmt::format(R"({{"system":"{}","code":"{}"}})", system, code); };
  const auto concept_of = [](const std::string& codings) { return R"("valueCodeableConcept":{"coding":[)" + codings + "]}"; };
  const std::string snomed = "http://snomed.info/sct", table = "http://terminology.hl7.org/CodeSystem/v2-0136";
  const std::pair<std::string, std::optional<bool>> rows[] = {
      {concept_of(of(snomed, "373066001")), true}, {concept_of(of(snomed, "373067005")), false}, {concept_of(of(table, "Y")), true}, {concept_of(of(table, "N")), false},
      {concept_of(of("http://hl7.org/fhir/v2/0136", "Y")), true}, {R"("valueString":"true")", true}, {R"("valueString":"false")", false},
      {concept_of(of(snomed, "373066001") + "," + of(table, "Y")), true}, {concept_of(of(snomed, "373066001") + "," + of(table, "N")), std::nullopt},
      {concept_of(of("http://example.org/own", "Y")), std::nullopt}, {concept_of(of(table, "373066001")), std::nullopt}};
  const std::pair<const char*, std::optional<bool> SiteCheck::*> flags[] = {
      {"growth", &SiteCheck::growth}, {"chest-pain", &SiteCheck::chest_pain}, {"neurological-sign", &SiteCheck::neurological_sign}, {"mass-or-bruit", &SiteCheck::mass_or_bruit},
      {"skin-damage", &SiteCheck::skin_damage}, {"dizziness", &SiteCheck::dizziness}, {"voided", &SiteCheck::voided}};
  for (const auto& [value, meant] : rows) {
    for (const auto& [what, member] : flags) {
      const auto found = said(what, value);
      EXPECT_EQ(found.check.*member, meant) << what << value;
      EXPECT_EQ(found.check.unread.empty(), meant.has_value()) << what << value;
    }
    EXPECT_EQ(said("wet-dressing", value).check.wet_dressing, meant.value_or(false)) << value;
    EXPECT_EQ(said("back-pain", value).check.back_pain, meant.value_or(false)) << value;
  }
}

// What was recorded and cannot be read is kept with its words: it is not the same as not recorded, and no older look stands in for it.
TEST(CheckFinding, WhatCannotBeReadIsKeptWithItsWords) {
  struct Row {
    const char* what;
    std::string value, words;   // no words: nothing is kept
  };
  const Row rows[] = {
      {"bleeding", R"("valueCodeableConcept":{"text":"fresh blood oozing at sheath"})", "fresh blood oozing at sheath"},
      {"bleeding", coded("spurting"), "spurting"},
      {"bleeding", R"("valueBoolean":true)", "true"},
      {"bleeding", coded("none"), ""},
      {"bleeding", R"("valueString":"ooze")", ""},
      {"bleeding", kAbsent, ""},
      {"swelling", R"("valueString":"4 x 6 cm")", "4 x 6 cm"},
      {"swelling", quantity("6", ""), "6"},
      {"swelling", quantity("3", "kg"), "3 kg"},
      {"swelling", R"("valueInteger":7)", "7"},
      {"swelling", R"("valueRange":{"low":{"value":4}})", "valueRange"},
      {"swelling", R"("valueQuantity":{"unit":"cm"})", " cm"},
      {"swelling", quantity("2", "[in_i]"), ""},
      {"swelling", kAbsent, ""},
      {"foot-pulse", R"("valueCodeableConcept":{"text":"not palpable"})", "not palpable"},
      {"foot-pulse", coded("2-plus"), "2-plus"},
      {"growth", R"("valueString":"a little")", "a little"},
      {"wet-dressing", R"("valueString":"soaked")", "soaked"},
      {"back-pain", R"("valueString":"severe")", "severe"},
      {"mass-or-bruit", R"("valueString":"thrill")", "thrill"},
      {"skin-damage", R"("valueInteger":2)", "2"},
      {"haematoma", R"("valueBoolean":true)", "true"},
      {"chest-pain", R"("valueString":"yes")", "yes"},
      {"chest-pain", R"("valueString":"no")", "no"},
      {"chest-pain", kAbsent, ""},
      {"neurological-sign", R"("valueString":"left arm weak, speech slurred")", "left arm weak, speech slurred"},
      {"dizziness", R"("valueCodeableConcept":{"text":"on sitting up"})", "on sitting up"},
      {"voided", R"("valueString":"a little")", "a little"},
      {"bladder-volume", quantity("300", ""), "300"},
      {"pain", R"("valueString":"9/10")", "9/10"},
      {"pain", R"("valueInteger":11)", "11"},
      {"pain", kAbsent, ""},
      {"colour", R"("valueString":"white")", "white"},
      {"warmth", R"("valueCodeableConcept":{"text":"cold"})", "cold"},
      {"feeling", R"("valueString":"numb")", "numb"},
      {"movement", R"("valueString":"toes not moving")", "toes not moving"},
      {"movement", kAbsent, ""},
  };
  for (const auto& row : rows) {
    const auto check = said(row.what, row.value).check;
    EXPECT_EQ(check.unread.size(), row.words.empty() ? 0u : 1u) << row.what << " " << row.value;
    EXPECT_EQ(check.looks(), !row.words.empty() || check.bleeding || check.swelling) << row.what << " " << row.value;
    if (check.unread.empty()) continue;
    EXPECT_EQ(check.unread.front().what, row.what);
    EXPECT_EQ(check.unread.front().said, row.words) << row.what;
  }
}

}  // namespace
