#include "fhir_write/steps.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "fhir_write/example_write.h"

namespace {

using example::at;
using example::History;
using fhir_write::Form;
using fhir_write::SingleWrite;
using fhir_write::single_writes;

std::vector<std::string> shape_of(const std::vector<SingleWrite>& writes) {
  std::vector<std::string> all;
  for (const auto& one : writes) {
    std::string text = one.method + " " + std::string(one.resource["resourceType"].text());
    if (one.resource["resourceType"].text() == "CarePlan" || one.resource["resourceType"].text() == "Task") text += " " + std::string(one.resource["status"].text());
    if (all.empty() || all.back() != text) all.push_back(text);
  }
  return all;
}

TEST(SingleWrites, NewTasksStandBetweenADraftAndThePlanThatListsThem) {
  History history(Form::record);
  const auto writes = single_writes(history.write(example::sheath_in(), at(15)).bundle);
  EXPECT_THAT(shape_of(writes), testing::ElementsAre("PUT CarePlan draft", "POST Task requested", "PUT CarePlan active", "POST Binary", "POST DocumentReference", "POST GuidanceResponse", "POST Provenance"));
  const auto& draft = writes.front();
  EXPECT_THAT(json::write(draft.resource["activity"]), testing::Not(testing::HasSubstr("urn:uuid")));
  EXPECT_NE(draft.if_match, "");
  const auto plan = std::ranges::find_if(writes, [](const SingleWrite& one) { return one.resource["status"].text() == "active"; });
  EXPECT_EQ(plan->if_match, "") << "the version that the draft got";
  EXPECT_EQ(plan->entry, draft.entry);
  for (const auto& one : writes) {
    const bool has_identifier = one.method == "POST" && one.resource["resourceType"].text() != "Binary" && one.resource["resourceType"].text() != "Provenance";
    EXPECT_EQ(one.if_none_exist.empty(), !has_identifier) << one.path;
  }
}

TEST(SingleWrites, WhatIsTakenBackGoesFirst) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  const auto writes = single_writes(history.write(example::rebleed(), at(18)).bundle);
  EXPECT_THAT(shape_of(writes).front(), "PUT Task cancelled");
  EXPECT_EQ(writes[0].resource["code"]["coding"].at(0)["code"].text(), "stand-and-walk");
  EXPECT_EQ(writes[1].resource["code"]["coding"].at(0)["code"].text(), "sit-up");
}

TEST(SingleWrites, EveryEntryIsWrittenAndOnlyTheCarePlanTwice) {
  History history(Form::record);
  history.write(example::nearly_up(), at(16));
  const auto bundle = history.write(example::rebleed(), at(18)).bundle;
  const auto writes = single_writes(bundle);
  std::vector<std::size_t> times(bundle["entry"].size());
  for (const auto& one : writes) ++times[one.entry];
  for (std::size_t i = 0; i < times.size(); ++i)
    EXPECT_LE(times[i], bundle["entry"].at(i)["resource"]["resourceType"].text() == "CarePlan" ? 2u : 1u);
  EXPECT_EQ(std::ranges::count(times, 0u), 0);
}

TEST(SingleWrites, AWithdrawnPlanIsNoDraft) {
  History history(Form::record);
  history.write(example::sheath_in(), at(15));
  auto withdrawn = example::sheath_in();
  withdrawn.state = clinical::CaseState::withdrawn;
  for (const auto& text : shape_of(single_writes(history.write(withdrawn, at(16)).bundle))) EXPECT_NE(text, "PUT CarePlan draft");
}

}  // namespace
