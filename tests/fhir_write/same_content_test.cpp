// Whether what stands is our own write whose answer was lost, or somebody else's.
#include <gtest/gtest.h>

#include "fhir_write/lookup.h"

namespace {

bool same(const std::string& sent, const std::string& stands) { return fhir_write::same_content(*json::parse(sent), *json::parse(stands)); }

TEST(SameContent, WhatAServerAddsAndHowItSpellsNumbersIsLeftAside) {
  EXPECT_TRUE(same(R"({"resourceType":"Task","status":"requested","input":[{"valueQuantity":{"value":5.0}}],"text":{"div":"<div/>"}})",
                   R"({"resourceType":"Task","id":"7","meta":{"versionId":"2"},"input":[{"valueQuantity":{"value":5}}],"status":"requested","text":{"div":"<div />"}})"));
}

TEST(SameContent, AnElementMoreOrLessOrOtherwiseIsSomebodyElses) {
  const std::string sent = R"({"resourceType":"Task","status":"requested","restriction":{"repetitions":1},"input":[{"valueString":"a"}]})";
  EXPECT_FALSE(same(sent, R"({"resourceType":"Task","status":"accepted","restriction":{"repetitions":1},"input":[{"valueString":"a"}]})"));
  EXPECT_FALSE(same(sent, R"({"resourceType":"Task","status":"requested","restriction":{"repetitions":1},"input":[{"valueString":"a"}],"note":[{"text":"x"}]})"));
  EXPECT_FALSE(same(sent, R"({"resourceType":"Task","status":"requested","input":[{"valueString":"a"}]})"));
  EXPECT_FALSE(same(sent, R"({"resourceType":"Task","status":"requested","restriction":{"repetitions":1,"x":true},"input":[{"valueString":"a"}]})"));
  EXPECT_FALSE(same(sent, R"({"resourceType":"Task","status":"requested","restriction":{"repetitions":1},"input":[]})"));
  EXPECT_FALSE(same(sent, "null"));
}

}  // namespace
