// Codes that mean nothing here are listed by count: of what has come since the start, and of what the store holds.
#include <gtest/gtest.h>

#include "app/simulated_support.h"
#include "app/unmapped.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;

std::string result(const std::string& id, const std::string& code) {
  return R"({"resourceType":"Observation","id":")" + id + R"(","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T12:00:00Z","code":{"coding":[{"system":"https://hospital.example/lab","code":")" + code +
         R"(","display":"ACT at the bedside"}]},"valueQuantity":{"value":141,"code":"s"}})";
}

TEST(Unmapped, are_listed_by_count_with_and_without_a_case) {
  MemoryChart chart;
  Daemon daemon(app_test::fresh_folder("unmapped"), chart, "", 1'772'456'400'000);
  daemon.put("Patient", "a", R"({"resourceType":"Patient","id":"a"})");
  for (const char* id : {"o1", "o2", "o3"}) daemon.put("Observation", id, result(id, "K17"));
  daemon.put("Observation", "o3", result("o3", "K17"));
  daemon.put("Observation", "o4", result("o4", "K18"));
  daemon.put("MedicationAdministration", "m", R"({"resourceType":"MedicationAdministration","id":"m","status":"completed","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T10:00:00Z",
    "medicationReference":{"reference":"Medication/x"}})");
  daemon.put("Medication", "x", R"({"resourceType":"Medication","id":"x","code":{"coding":[{"system":"https://hospital.example/drugs","code":"4711","display":"HEP 25T"}]}})");
  daemon.run();
  const std::vector<std::pair<std::string, std::int64_t>> expected{{"unmapped-result: https://hospital.example/lab|K17 \"ACT at the bedside\"", 3},
                                                                   {"unmapped-drug: https://hospital.example/drugs|4711 \"HEP 25T\"", 1},
                                                                   {"unmapped-result: https://hospital.example/lab|K18 \"ACT at the bedside\"", 1}};
  const auto held = app::unmapped_held(*daemon.store, daemon.rules);
  ASSERT_TRUE(held.has_value());
  EXPECT_EQ(held->by_count(), expected);
  std::vector<std::pair<std::string, std::int64_t>> status;
  for (const auto& one : daemon.engine->status().unmapped) status.emplace_back(one.what, one.count);
  for (const auto& one : expected) EXPECT_NE(std::ranges::find(status, one), status.end()) << one.first;
}

}  // namespace
