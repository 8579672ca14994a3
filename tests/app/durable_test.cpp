// Nothing acknowledged is lost: 2xx only after the commit is on disk.
#include <gtest/gtest.h>

#include "app/simulated_support.h"
#include "store/fault_vfs.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;
using store_test::FaultVfs;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const std::string kPatient = R"({"resourceType":"Patient","id":"a","birthDate":"1958-04-11","meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]}})";

TEST(Durable, AFailedSyncIsNeverAnswered2xxAndEndsTheDaemon) {
  for (int sync = 1; sync <= 3; ++sync) {
    const std::string folder = app_test::fresh_folder("failed-sync");
    FaultVfs disk("failed-sync-" + std::to_string(sync), FaultVfs::Mode::pass_through);
    MemoryChart chart;
    Daemon daemon(folder, chart, disk.name(), kAt);
    disk.heal();
    disk.fail_sync(sync, true);
    bool refused = false;
    for (int n = 0; n < 4 && !refused; ++n) {
      const int status = daemon.put("Patient", "p" + std::to_string(n), kPatient);
      if (disk.fault_came() && status >= 200 && status < 300) {
        // the event itself was durable before a later commit failed
        EXPECT_TRUE(daemon.store->failure().has_value() || !daemon.fatal.empty());
      }
      refused = status >= 500;
    }
    EXPECT_TRUE(refused) << "sync " << sync;
    EXPECT_FALSE(daemon.fatal.empty()) << "a failed sync is fatal: stop, open anew, look";
  }
}

TEST(Durable, TheFirstSyncOfAnEventDecidesItsAnswer) {
  const std::string folder = app_test::fresh_folder("first-sync");
  FaultVfs disk("first-sync", FaultVfs::Mode::pass_through);
  MemoryChart chart;
  Daemon daemon(folder, chart, disk.name(), kAt);
  disk.heal();
  disk.fail_sync(1, true);
  EXPECT_EQ(daemon.put("Patient", "a", kPatient), 500);
}

TEST(Durable, WhatWasAcknowledgedIsThereAfterAPowerCutAtAnyPoint) {
  int point = 1;
  for (bool came = true; came && point < 400; ++point) {
    const std::string folder = app_test::fresh_folder("power-cut");
    std::vector<std::string> acknowledged;
    MemoryChart chart;
    {
      FaultVfs disk("power-cut-" + std::to_string(point), FaultVfs::Mode::power);
      {
        Daemon daemon(folder, chart, disk.name(), kAt);
        disk.cut_power_at(point);
        for (int n = 0; n < 3; ++n) {
          const std::string id = "p" + std::to_string(n);
          const int status = daemon.put("Patient", id, kPatient);
          if (status >= 200 && status < 300) acknowledged.push_back(id);
        }
        came = disk.fault_came();
      }
      disk.lose_power(store_test::Damage::lost_tail);
    }
    Daemon again(folder, chart, "", kAt);
    for (const std::string& id : acknowledged) {
      const auto held = again.store->current("", "Patient", id);
      ASSERT_TRUE(held.has_value());
      EXPECT_TRUE(held->has_value()) << id << " was acknowledged and lost, power cut at operation " << point;
    }
    EXPECT_TRUE(again.store->verify_ledgers().has_value());
  }
  EXPECT_GT(point, 5);
}

}  // namespace
