// Which searches are made about a patient, and which way is taken where the record refuses one.
#include <gtest/gtest.h>

#include <algorithm>

#include "app/ways_to_ask.h"

namespace {

using app::Way;
using app::WaysToAsk;

const app::Since kMarked{"2026-03-02T12:00:00Z", "2026-03-01"};
const app::Since kAll{"", "2026-01-30"};

std::vector<std::string> of_type(const std::vector<std::string>& paths, const std::string& type) {
  std::vector<std::string> some;
  std::ranges::copy_if(paths, std::back_inserter(some), [&](const std::string& path) { return path.starts_with(type + "?"); });
  return some;
}

TEST(WaysToAsk, WhatHasChangedIsAskedForOnceThereIsAMark) {
  const WaysToAsk ways(app::asked_about_patients());
  EXPECT_EQ(of_type(ways.paths("a", kMarked), "Observation"), std::vector<std::string>{"Observation?patient=a&_count=100&_lastUpdated=ge2026-03-02T12:00:00Z"});
  EXPECT_EQ(of_type(ways.paths("a", kAll), "Observation"), std::vector<std::string>{"Observation?patient=a&_count=100&date=ge2026-01-30"});
  EXPECT_EQ(of_type(ways.paths("a", kAll), "Condition"), std::vector<std::string>{"Condition?patient=a&_count=100"});
  EXPECT_TRUE(ways.others().empty());
}

// Names of R5: https://hl7.org/fhir/R5/deviceusage.html, https://hl7.org/fhir/R5/medicationadministration.html#search
TEST(WaysToAsk, ARecordOfR5IsAskedByTheNamesOfR5) {
  WaysToAsk ways(app::asked_about_patients());
  EXPECT_EQ(of_type(ways.paths("a", kAll), "DeviceUseStatement").size(), 1u);
  EXPECT_EQ(of_type(ways.paths("a", kAll), "DeviceUsage").size(), 0u);
  ways.ask(app::asked_about_patients(true));
  EXPECT_EQ(of_type(ways.paths("a", kAll), "DeviceUseStatement").size(), 0u);
  EXPECT_EQ(of_type(ways.paths("a", kAll), "DeviceUsage"), std::vector<std::string>{"DeviceUsage?patient=a&_count=100"});
  EXPECT_EQ(of_type(ways.paths("a", kAll), "MedicationAdministration"), std::vector<std::string>{"MedicationAdministration?patient=a&_count=100&date=ge2026-01-30"});
  EXPECT_EQ(of_type(ways.paths("a", kAll), "CareTeam").size(), 1u);
}

TEST(WaysToAsk, ARefusalOfLastUpdatedLeadsToTheClinicalDate) {
  WaysToAsk ways(app::asked_about_patients());
  EXPECT_TRUE(ways.refused("Observation?patient=a&_count=100&_lastUpdated=ge2026-03-02T12:00:00Z"));
  EXPECT_EQ(of_type(ways.paths("a", kMarked), "Observation"), std::vector<std::string>{"Observation?patient=a&_count=100&date=ge2026-03-01"});
  EXPECT_EQ(ways.others(), std::vector<std::string>{"Observation by date"});
}

TEST(WaysToAsk, ATypeThatWantsACategoryIsAskedForCategoryByCategory) {
  WaysToAsk ways(app::asked_about_patients());
  EXPECT_TRUE(ways.refused("Observation?patient=a&_count=100&date=ge2026-01-30"));
  EXPECT_EQ(of_type(ways.paths("a", kMarked), "Observation").size(), 1u) << "by change was never refused";
  EXPECT_TRUE(ways.refused("Observation?patient=a&_count=100&_lastUpdated=ge2026-03-02T12:00:00Z"));
  const auto paths = of_type(ways.paths("a", kMarked), "Observation");
  ASSERT_EQ(paths.size(), 7u);
  EXPECT_EQ(paths.front(), "Observation?patient=a&_count=100&date=ge2026-03-01&category=laboratory");
  EXPECT_FALSE(ways.complete("Observation")) << "what has no category is not found";
  EXPECT_FALSE(ways.refused("Observation?patient=a&_count=100&date=ge2026-03-01&category=activity")) << "that one only";
  EXPECT_EQ(of_type(ways.paths("a", kMarked), "Observation").size(), 6u);
  EXPECT_EQ(ways.lost(), std::set<std::string>{"Observation of category activity"});
}

TEST(WaysToAsk, WithoutADateThePlainWayIsTriedBeforeTheCategories) {
  WaysToAsk ways(app::asked_about_patients());
  EXPECT_TRUE(ways.refused("Condition?patient=a&_count=100&_lastUpdated=ge2026-03-02T12:00:00Z"));
  EXPECT_EQ(of_type(ways.paths("a", kMarked), "Condition"), std::vector<std::string>{"Condition?patient=a&_count=100"}) << "it finds what has no category too";
  EXPECT_TRUE(ways.refused("Condition?patient=a&_count=100"));
  EXPECT_EQ(of_type(ways.paths("a", kAll), "Condition"),
            (std::vector<std::string>{"Condition?patient=a&_count=100&category=problem-list-item", "Condition?patient=a&_count=100&category=encounter-diagnosis"}));
}

TEST(WaysToAsk, WhereEveryWayIsRefusedTheTypeIsNamed) {
  WaysToAsk ways(app::asked_about_patients());
  EXPECT_TRUE(ways.refused("List?patient=a&_count=100&_lastUpdated=ge2026-03-02T12:00:00Z"));
  EXPECT_FALSE(ways.refused("List?patient=a&_count=100"));
  EXPECT_EQ(ways.way("List"), Way::none);
  EXPECT_EQ(ways.lost(), std::set<std::string>{"List"});
  EXPECT_TRUE(of_type(ways.paths("a", kAll), "List").empty());
  ways.forgive();
  EXPECT_EQ(of_type(ways.paths("a", kAll), "List").size(), 1u);
}

/// Whatever is refused, in whatever order: the asking ends, and nothing is asked for that was refused.
TEST(WaysToAsk, EverySequenceOfRefusalsEnds) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    WaysToAsk ways(app::asked_about_patients());
    std::set<std::string> refused;
    unsigned state = seed * 2654435761u + 1;
    for (int round = 0; round < 60; ++round) {
      const auto paths = ways.paths("a", round % 2 ? kMarked : kAll);
      for (const std::string& path : paths) {
        EXPECT_FALSE(refused.contains(path)) << path << " again";
        state = state * 1664525u + 1013904223u;
        if (state >> 31 || seed == 0) ways.refused(path), refused.insert(path);
      }
      if (seed == 0 && paths.empty()) break;
      EXPECT_TRUE(seed != 0 || round < 20);
    }
  }
}

}  // namespace
