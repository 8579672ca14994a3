// A burst of facts makes one sheet; what makes the sheet at the bed unsafe makes a new one at once.
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "app/simulated_support.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const std::string kPatient = R"({"resourceType":"Patient","id":"a","birthDate":"1958-04-11","name":[{"family":"Testfall"}],
  "meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]}})";
const std::string kProcedure = R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},
  "code":{"coding":[{"system":"http://snomed.info/sct","code":"33367005","display":"Coronary angiography"}]},
  "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],
  "performedPeriod":{"start":"2026-03-02T12:00:00Z","end":"2026-03-02T12:40:00Z"},
  "extension":[{"url":"https://aftersheath.example/fhir/StructureDefinition/sheath-size","valueQuantity":{"value":6,"system":"http://unitsofmeasure.org","code":"[Ch]"}}]})";

std::string laboratory(const std::string& loinc, const std::string& quantity) {
  return fmt::format(R"({{"resourceType":"Observation","status":"final","subject":{{"reference":"Patient/a"}},"effectiveDateTime":"2026-03-02T11:00:00Z",
    "code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},"valueQuantity":{{"system":"http://unitsofmeasure.org",{}}}}})", loinc, quantity);
}

std::string event(const std::string& code, const std::string& at) {
  return fmt::format(R"({{"resourceType":"Procedure","status":"completed","subject":{{"reference":"Patient/a"}},"partOf":[{{"reference":"Procedure/p"}}],
    "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"{}"}}]}},"performedDateTime":"{}"}})", code, at);
}

class Settling : public testing::Test {
 protected:
  Settling() : folder(app_test::fresh_folder("settling")), daemon(std::make_unique<Daemon>(folder, chart, "", kAt)) {}
  void arrive() {
    ASSERT_EQ(daemon->put("Patient", "a", kPatient), 200);
    ASSERT_EQ(daemon->put("Procedure", "p", kProcedure), 200);
    ASSERT_EQ(daemon->put("Observation", "platelets", laboratory("777-3", R"("value":212,"code":"10*9/L")")), 200);
    ASSERT_EQ(daemon->put("Observation", "inr", laboratory("6301-6", R"("value":1.0,"code":"{INR}")")), 200);
    daemon->run();
  }
  void wait(app::Millis ms) {
    daemon->engine->move_clock(daemon->clock->now() + ms, [] {});
    daemon->run();
  }
  bool has_sheet(int n) const { return chart.files.contains(fmt::format("Procedure-p/sheet-{}.pdf", n)); }

  std::string folder;
  MemoryChart chart;
  std::unique_ptr<Daemon> daemon;
};

TEST_F(Settling, FourFactsOfAnArrivalMakeOneSheetAfterFiveSeconds) {
  arrive();
  EXPECT_TRUE(chart.files.contains("Procedure-p/transaction-1.json")) << "Tasks do not wait";
  EXPECT_FALSE(has_sheet(1));
  wait(4'999);
  EXPECT_FALSE(has_sheet(1));
  wait(1);
  EXPECT_TRUE(has_sheet(1));
  wait(60'000);
  EXPECT_FALSE(has_sheet(2));
}

TEST_F(Settling, AStopInBetweenLosesNoSheet) {
  arrive();
  daemon.reset();
  daemon = std::make_unique<Daemon>(folder, chart, "", kAt + 6'000);
  daemon->run();
  EXPECT_TRUE(has_sheet(1));
  EXPECT_FALSE(has_sheet(2));
}

TEST_F(Settling, ARecordThatNamesTheOtherGroinIsToldUntilSomebodyHasLooked) {
  arrive();
  wait(5'000);
  std::string other = kProcedure;
  other.replace(other.find("69833005"), 8, "113270003");
  ASSERT_EQ(daemon->put("Procedure", "p", other), 200);
  daemon->run();
  EXPECT_NE(chart.files["Procedure-p/timeline.json"].find("side-changed"), std::string::npos);
  EXPECT_TRUE(has_sheet(2)) << "at once";
  ASSERT_EQ(daemon->put("Procedure", "p", kProcedure), 200);
  daemon->run();
  EXPECT_NE(chart.files["Procedure-p/timeline.json"].find("it said the left one"), std::string::npos);
}

TEST_F(Settling, WhatWasEnteredInErrorComesBackOnlyAsProvablyNewerAndSaysSo) {
  arrive();
  std::string wrong = kProcedure;
  wrong.replace(wrong.find("completed"), 9, "entered-in-error");
  ASSERT_EQ(daemon->put("Procedure", "p", wrong), 200);
  ASSERT_EQ(daemon->put("Procedure", "p", kProcedure), 200);
  daemon->run();
  ASSERT_EQ(daemon->engine->status().alarms.size(), 1u);
  EXPECT_NE(daemon->engine->status().alarms[0].find("later meta.lastUpdated"), std::string::npos);
  std::string newer = kProcedure;
  newer.insert(1, R"("meta":{"lastUpdated":"2026-03-02T13:00:30Z"},)");
  ASSERT_EQ(daemon->put("Procedure", "p", newer), 200);
  daemon->run();
  EXPECT_THAT(daemon->engine->status().alarms, testing::IsEmpty());
  EXPECT_NE(chart.files["Procedure-p/timeline.json"].find("\"state\": \"sheath-in\""), std::string::npos);
}

TEST_F(Settling, HaemostasisAndARebleedAreOnTheSheetAtOnce) {
  arrive();
  wait(5'000);
  ASSERT_EQ(daemon->put("Procedure", "out", event("sheath-removed", "2026-03-02T12:50:00Z")), 200);
  ASSERT_EQ(daemon->put("Procedure", "dry", event("haemostasis-confirmed", "2026-03-02T12:59:00Z")), 200);
  daemon->run();
  EXPECT_TRUE(has_sheet(2)) << "T0 is never late on paper";
  wait(10'000);
  int before = 2;
  while (has_sheet(before + 1)) ++before;
  ASSERT_EQ(daemon->put("Procedure", "again", event("rebleed", "2026-03-02T13:00:10Z")), 200);
  daemon->run();
  EXPECT_TRUE(has_sheet(before + 1));
}

}  // namespace
