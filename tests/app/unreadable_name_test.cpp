// A name that no font can draw: the sheet shows the record number, and a Task asks somebody to compare it with the wristband, once.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "app/make_sheet.h"
#include "app/simulated_support.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;
using testing::HasSubstr;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z

std::string patient(const std::string& family) {
  return fmt::format(R"({{"resourceType":"Patient","id":"a","birthDate":"1958-04-11","name":[{{"family":"{}"}}],"identifier":[{{"system":"https://hospital.example/number","value":"T-1"}}],
  "meta":{{"security":[{{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}}]}}}})", family);
}
const std::string kProcedure = R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},
  "code":{"coding":[{"system":"http://snomed.info/sct","code":"33367005","display":"Coronary angiography"}]},
  "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],
  "performedPeriod":{"start":"2026-03-02T12:00:00Z","end":"2026-03-02T12:40:00Z"},
  "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/sheath-size","valueQuantity":{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}}]})";

std::size_t times_in(const MemoryChart& chart, const std::string& words) {
  std::size_t n = 0;
  for (const auto& [name, content] : chart.files)
    if (name.find("transaction") != std::string::npos)
      for (auto at = content.find(words); at != std::string::npos; at = content.find(words, at + 1)) ++n;
  return n;
}

TEST(UnreadableName, LettersAreNamed) {
  EXPECT_EQ(app::unprintable_in("Testfall, Žaneta"), "");
  EXPECT_EQ(app::unprintable_in("Test\xF3\xB0\x80\x80"), "U+F0000");  // a private-use letter: no font of the distribution draws it
}

TEST(UnreadableName, IsComparedWithTheWristbandOnce) {
  MemoryChart chart;
  Daemon daemon(app_test::fresh_folder("unreadable"), chart, "", kAt);
  ASSERT_EQ(daemon.put("Patient", "a", patient("Test\xF3\xB0\x80\x80")), 200);
  ASSERT_EQ(daemon.put("Procedure", "p", kProcedure), 200);
  daemon.run();
  EXPECT_GE(times_in(chart, "RIGHT groin: compare the sheet with the wristband"), 1U);
  EXPECT_GE(times_in(chart, "U+F0000"), 1U);
  daemon.engine->move_clock(daemon.clock->now() + 1'500'000, [] {});
  daemon.run();
  EXPECT_EQ(times_in(chart, "\"code\":\"check-sheet\"") + times_in(chart, "\"code\": \"check-sheet\""), 1U) << "asked once";
}

TEST(UnreadableName, AReadableNameAsksNothing) {
  MemoryChart chart;
  Daemon daemon(app_test::fresh_folder("readable"), chart, "", kAt);
  ASSERT_EQ(daemon.put("Patient", "a", patient("Testfall")), 200);
  ASSERT_EQ(daemon.put("Procedure", "p", kProcedure), 200);
  daemon.run();
  EXPECT_EQ(times_in(chart, "compare the sheet with the wristband"), 0U);
}

}  // namespace
