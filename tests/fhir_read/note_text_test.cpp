// Notes and outcomes in words: what is not understood asks for a look as written, and what denies a haemostasis is none. FHIR R4: Procedure.outcome with the value set
// procedure-outcome (SNOMED CT 385669000 successful, 385671000 unsuccessful, 385670004 partially successful), Procedure.note, Observation.note, Task.note, Task.statusReason.
// Clinical model: T0 is haemostasis confirmed. The words: common practice, no source. Everything invented.
#include "fhir_read/note_text.h"
#include "fhir_read/planned_support.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;
using fhir_read::NoteSays;

constexpr const char* kNow = "2026-03-02T14:40:00Z";

std::string haemostasis(const std::string& more) {
  return fmt::format(R"({{"resourceType":"Procedure","id":"dry","status":"completed","subject":{{"reference":"Patient/a"}},"partOf":[{{"reference":"Procedure/p"}}],{}"code":{{"coding":[
    {{"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"haemostasis-confirmed"}}]}},"performedDateTime":"2026-03-02T14:20:00Z"}})", more);
}
Planned pressed_with(const std::string& more) {
  auto events = pressed();
  events.back() = haemostasis(more);
  return planned(base_case() + events, kNow);
}
const clinical::Alert* unread(const Planned& p) {
  const auto it = std::ranges::find(p.plan.alerts, "check-unread", &clinical::Alert::trigger);
  return it == p.plan.alerts.end() ? nullptr : &*it;
}
std::string said(const clinical::Alert* alert) {
  if (!alert) return {};
  for (const auto& [name, value] : alert->why.arguments)
    if (name == "said") return std::get<std::string>(value);
  return {};
}

TEST(NoteText, what_it_says) {
  const auto says = [](std::string_view text) { return fhir_read::note_says(text, terminology()); };
  for (const char* calm : {"", "dry", "Leiste trocken, Fuß warm", "no bleeding", "Keine Nachblutung.", "Pas de saignement", "Sin sangrado", "Nie krwawi", "لا نزيف", "patient sleeping 20 min", "Durchblutung gut", "device off, dry"})
    EXPECT_EQ(says(calm), NoteSays::nothing_bad) << calm;
  for (const char* bad : {"not dry", "still oozing, device left on", "Verband durchgeblutet, hellrot", "blutet, drücke", "Fuß kalt und blass", "saigne encore", "sangra", "krwawi", "mokry opatrunek", "لا يزال ينزف", "groin swollen", "bleeding"})
    EXPECT_EQ(says(bad), NoteSays::trouble) << bad;
  for (const char* unknown : {"Dr informed", "klagt über Rückenschmerzen", "Arzt gerufen"}) EXPECT_EQ(says(unknown), NoteSays::not_understood) << unknown;
}

TEST(NoteText, a_haemostasis_that_is_denied_is_none) {
  EXPECT_TRUE(pressed_with("").plan.sites.at(0).t0);
  for (const char* good : {R"("outcome":{"coding":[{"system":"http://snomed.info/sct","code":"385669000","display":"Successful"}]},)", R"("outcome":{"text":"successful"},)", R"("note":[{"text":"dry, foot warm"}],)"}) {
    const auto p = pressed_with(good);
    EXPECT_TRUE(p.plan.sites.at(0).t0) << good;
    EXPECT_FALSE(unread(p)) << good;
  }
  for (const auto& [bad, words] : {std::pair(R"("outcome":{"text":"unsuccessful, still bleeding"},)", "unsuccessful, still bleeding"),
                                   std::pair(R"("outcome":{"coding":[{"system":"http://snomed.info/sct","code":"385671000","display":"Unsuccessful"}]},)", "Unsuccessful"),
                                   std::pair(R"("outcome":{"coding":[{"system":"http://snomed.info/sct","code":"385671000"}]},)", "385671000"),
                                   std::pair(R"("note":[{"text":"not dry, still oozing, device left on"}],)", "not dry, still oozing, device left on")}) {
    const auto p = pressed_with(bad);
    EXPECT_FALSE(p.plan.sites.at(0).t0) << bad;
    EXPECT_EQ(said(unread(p)), words);
    EXPECT_TRUE(has_issue(p.read, "haemostasis-doubted"));
  }
  const auto asked = pressed_with(R"("note":[{"text":"Dr informed"}],)");
  EXPECT_TRUE(asked.plan.sites.at(0).t0) << "nothing denies it";
  EXPECT_EQ(said(unread(asked)), "Dr informed") << "but it is asked what that means";
}

std::string check(const std::string& note) {
  const char* system = "https://aftersheath.example/fhir/CodeSystem/check-finding";
  const auto part = [&](const char* what, const std::string& value) { return fmt::format(R"({{"code":{{"coding":[{{"system":"{}","code":"{}"}}]}},{}}})", system, what, value); };
  const auto word = [&](const char* code) { return fmt::format(R"("valueCodeableConcept":{{"coding":[{{"system":"{}","code":"{}"}}]}})", system, code); };
  return fmt::format(R"({{"resourceType":"Observation","id":"c","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T14:35:00Z","code":{{"coding":[{{"system":"{}","code":"site-check"}}]}},
    "note":[{{"text":"{}"}}],"component":[{},{},{},{}]}})", system, note, part("bleeding", word("none")), part("foot-pulse", word("as-baseline")),
                     part("swelling", R"("valueQuantity":{"value":0,"system":"http://unitsofmeasure.org","code":"cm"})"), part("growth", R"("valueBoolean":false)"));
}

TEST(NoteText, a_full_check_with_a_note_that_is_not_understood_asks) {
  for (const char* note : {"Verband durchgeblutet, hellrot, drücke seit 5 min, Arzt gerufen", "Fuß kalt und blass seit 10 min", "klagt über Rückenschmerzen"}) {
    const auto p = planned(base_case() + pressed() + std::vector<std::string>{check(note)}, kNow);
    EXPECT_EQ(said(unread(p)), note);
    EXPECT_FALSE(p.read.record.checks.back().complete());
  }
  EXPECT_FALSE(unread(planned(base_case() + pressed() + std::vector<std::string>{check("Leiste trocken, Patient schläft")}, kNow)));
}

std::string task(const char* step, const char* status, const std::string& more) {
  return fmt::format(R"({{"resourceType":"Task","id":"t","status":"{}","intent":"plan","for":{{"reference":"Patient/a"}},"focus":{{"reference":"Procedure/p"}},"code":{{"coding":[
    {{"system":"https://aftersheath.example/fhir/CodeSystem/aftercare-step","code":"{}"}}]}},"executionPeriod":{{"end":"2026-03-02T14:35:00Z"}},"lastModified":"2026-03-02T14:36:00Z",{}}})", status, step, more);
}

TEST(NoteText, what_is_written_beside_a_task_is_shown_as_written) {
  const auto with = [](const std::string& one) { return planned(base_case() + pressed() + std::vector<std::string>{one}, kNow); };
  EXPECT_EQ(said(unread(with(task("check-site", "completed", R"("output":[{"type":{"coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/task-output","code":"note"}]},"valueString":"blutet, drücke"}])")))), "blutet, drücke");
  EXPECT_EQ(said(unread(with(task("check-site", "failed", R"("statusReason":{"text":"Patient blutet, keine Zeit"})")))), "Patient blutet, keine Zeit");
  EXPECT_EQ(said(unread(with(task("stand-and-walk", "rejected", R"("statusReason":{"text":"patient collapsed, groin bleeding"})")))), "patient collapsed, groin bleeding");
  EXPECT_FALSE(unread(with(task("stand-and-walk", "cancelled", R"("statusReason":{"text":"Not needed any more: bleeding seen"})")))) << "our own words";
  EXPECT_FALSE(unread(with(task("print-sheet", "failed", R"("statusReason":{"text":"no paper"})")))) << "not at the bed";
  const auto dry = [&](const char* note) {
    auto events = pressed();
    events.back() = task("end-compression", "completed", fmt::format(R"("note":[{{"text":"{}"}}])", note));
    return planned(base_case() + events, kNow).plan.sites.at(0).t0.has_value();
  };
  EXPECT_TRUE(dry("dry"));
  EXPECT_FALSE(dry("still bleeding"));
}

}  // namespace
