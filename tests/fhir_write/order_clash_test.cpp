// A clash of an order as DetectedIssue: the element rules of R4 4.0.1 and R5 5.0.0 (detectedissue.html of both); every shape is judged by the independent validator in
// tests/end_to_end/order_clash_test.py.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fhir_write/detected_issue.h"
#include "fhir_write/example_write.h"
#include "fhir_write/r5.h"

namespace {

using clinical::Stands;
using fhir_write::Form;
using json::Value;
using testing::ElementsAre;

clinical::CasePlan ordered() {
  auto plan = example::sheath_in();
  plan.order_clashes = {{clinical::OrderKind::drug, "", {"MedicationRequest/m", "4", false}, "enoxaparin", example::reason("test.clash")}};
  return plan;
}

std::vector<Value> issues_in(const fhir_write::Transaction& written) {
  std::vector<Value> all;
  for (const auto& entry : written.entries)
    if (entry.resource["resourceType"].text() == "DetectedIssue") all.push_back(entry.resource);
  return all;
}

TEST(OrderClash, IsRaisedWithTheOrderThePlanAndTheProcedure) {
  example::History history(Form::file);
  const auto all = issues_in(history.write(ordered(), example::at(15, 5)));
  ASSERT_EQ(all.size(), 1U);
  const Value& r = all[0];
  EXPECT_EQ(r["status"].text(), "final");
  EXPECT_EQ(r["severity"].text(), "high");
  EXPECT_EQ(r["code"]["coding"].at(0)["code"].text(), "TIME");
  EXPECT_EQ(r["code"]["coding"].at(1)["code"].text(), "drug");
  EXPECT_EQ(r["patient"]["reference"].text(), "Patient/a");
  EXPECT_EQ(r["identifiedDateTime"].text(), "2026-03-02T15:05:00Z");
  EXPECT_EQ(r["implicated"].at(0)["reference"].text(), "MedicationRequest/m");
  EXPECT_EQ(r["implicated"].at(0)["display"].text(), "enoxaparin");
  EXPECT_TRUE(r["implicated"].at(1)["reference"].text().starts_with("CarePlan/"));
  EXPECT_EQ(r["implicated"].at(2)["reference"].text(), "Procedure/p1");
  EXPECT_EQ(fhir_write::stands_by_content(r, {}), Stands::open);
  EXPECT_TRUE(fhir_write::own_key(r));
}

TEST(OrderClash, IsEndedWithAMitigationBesideThoseOfPeople) {
  example::History history(Form::record);
  history.write(ordered(), example::at(15, 5));
  for (auto& [key, there] : history.server)
    if (key.kind == clinical::ItemKind::order_clash) {
      there.body.set("mitigation", Value::array({Value::object({{"action", Value::object({{"text", "asked"}})}})}));
      there.body.set("reference", "https://hospital.example/guideline");
    }
  auto plan = ordered();
  plan.order_clashes[0].why = example::reason("test.other");
  const auto changed = issues_in(history.write(plan, example::at(15, 6)));
  ASSERT_EQ(changed.size(), 1U);
  EXPECT_EQ(changed[0]["mitigation"].size(), 1U);
  EXPECT_EQ(changed[0]["reference"].text(), "https://hospital.example/guideline");
  EXPECT_EQ(changed[0]["identifiedDateTime"].text(), "2026-03-02T15:05:00Z") << "when it was found, not when it changed";
  const auto ended = issues_in(history.write(example::sheath_in(), example::at(15, 7)));
  ASSERT_EQ(ended.size(), 1U);
  EXPECT_EQ(ended[0]["status"].text(), "final");
  ASSERT_EQ(ended[0]["mitigation"].size(), 2U);
  EXPECT_EQ(ended[0]["mitigation"].at(0)["action"]["text"].text(), "asked");
  EXPECT_EQ(ended[0]["mitigation"].at(1)["action"]["coding"].at(0)["code"].text(), "over");
  EXPECT_EQ(fhir_write::stands_by_content(ended[0], {}), Stands::withdrawn);
  const auto r5 = fhir_write::as_r5(ended[0]);
  EXPECT_EQ(r5["status"].text(), "mitigated");
  EXPECT_EQ(r5["subject"]["reference"].text(), "Patient/a");
  EXPECT_FALSE(r5.has("patient"));
  EXPECT_EQ(json::write(fhir_write::as_r5(fhir_write::from_r5(r5))), json::write(r5)) << "a second time changes nothing";
}

TEST(OrderClash, OfACaseThatWasNeverThisPatientsIsEnteredInError) {
  const auto status = [](std::optional<clinical::Reason> stopped) {
    example::History history(Form::record);
    history.write(ordered(), example::at(15, 5));
    auto plan = example::sheath_in();
    plan.state = clinical::CaseState::withdrawn;
    plan.stopped = std::move(stopped);
    plan.sites.clear();
    plan.missing.clear();
    return std::string(issues_in(history.write(plan, example::at(15, 6))).at(0)["status"].text());
  };
  EXPECT_EQ(status({}), "entered-in-error") << "its Procedure no longer stands";
  EXPECT_EQ(status(example::reason("case.stopped.subject")), "entered-in-error");
  EXPECT_EQ(status(example::reason("case.stopped.deceased")), "cancelled");
}

TEST(OrderClash, WhatSomebodySettledIsNotOurs) {
  for (const char* status : {"cancelled", "entered-in-error", "mitigated"})
    EXPECT_EQ(fhir_write::stands_by_content(Value::object({{"resourceType", "DetectedIssue"}, {"status", status}}), {}), Stands::rejected) << status;
}

}  // namespace
