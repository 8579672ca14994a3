// The clock, the order of work, and the files of the chart folder.
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <atomic>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <thread>

#include "app/chart_folder.h"
#include "app/deliver.h"
#include "app/plan_clock.h"
#include "app/worker.h"

namespace {

TEST(RehearsalClock, StandsStillUntilMovedAndNeverGoesBack) {
  const auto clock = app::rehearsal_plan_clock(1'000, 0, 5'000);
  EXPECT_EQ(clock->now(), 5'000) << "not behind the last reading in the store";
  EXPECT_FALSE(clock->real_time_until(6'000)) << "it will not get there by itself";
  EXPECT_EQ(clock->real_time_until(5'000), std::chrono::nanoseconds{0});
  EXPECT_TRUE(clock->move_to(9'000));
  EXPECT_TRUE(clock->move_to(7'000));
  EXPECT_EQ(clock->now(), 9'000);
}

TEST(RehearsalClock, RunsFaster) {
  const auto clock = app::rehearsal_plan_clock(0, 10'000, 0);
  std::this_thread::sleep_for(std::chrono::milliseconds{5});
  EXPECT_GE(clock->now(), 50'000);
  const auto until = clock->real_time_until(clock->now() + 10'000'000);
  ASSERT_TRUE(until);
  EXPECT_LE(*until, std::chrono::seconds{1});
}

TEST(SystemClock, IsNeverBehindTheLastReadingAndCannotBeMoved) {
  const app::Millis far = 4'000'000'000'000;
  const auto clock = app::system_plan_clock(far);
  EXPECT_EQ(clock->now(), far);
  EXPECT_FALSE(clock->move_to(far + 1));
}

TEST(Worker, RunsWorkInOrderAndFinishesItBeforeStopping) {
  std::vector<int> seen;
  app::Worker worker;
  for (int n = 0; n < 1000; ++n) worker.post([&seen, n] { seen.push_back(n); });
  worker.stop();
  ASSERT_EQ(seen.size(), 1000u);
  EXPECT_TRUE(std::is_sorted(seen.begin(), seen.end()));
}

TEST(ChartFolder, WritesWholeFilesForTheOwnerAlone) {
  const auto root = std::filesystem::temp_directory_path() / "aftersheath-chart-test";
  std::filesystem::remove_all(root);
  const auto chart = app::chart_folder(root.string());
  EXPECT_EQ(chart->put("case-1/transaction-1.json", "{}"), "");
  EXPECT_EQ(chart->put("case-1/transaction-1.json", "{\"again\":true}"), "");
  std::stringstream read;
  read << std::ifstream(root / "case-1/transaction-1.json").rdbuf();
  EXPECT_EQ(read.str(), "{\"again\":true}");
  struct stat found {};
  ASSERT_EQ(::stat((root / "case-1/transaction-1.json").c_str(), &found), 0);
  EXPECT_EQ(found.st_mode & 0777, 0600u);
  EXPECT_EQ(std::distance(std::filesystem::directory_iterator(root / "case-1"), {}), 1) << "nothing half-written stays";
  std::filesystem::remove_all(root);
}

TEST(ChartFolder, SaysWhatIsWrong) {
  const auto chart = app::chart_folder("/proc/no-such-place");
  EXPECT_NE(chart->put("a/b.json", "{}"), "");
}

TEST(WriteTarget, SurvivesBeingKeptAsText) {
  const app::WriteTarget target{"POST", "CarePlan", {{"If-None-Exist", "identifier=https://x.example|1"}, {"Prefer", "return=minimal"}}};
  const auto back = app::target_from(app::text_of(target));
  EXPECT_EQ(back.method, "POST");
  EXPECT_EQ(back.path, "CarePlan");
  EXPECT_EQ(back.headers, target.headers);
  EXPECT_EQ(app::target_from("POST ").path, "");
}

}  // namespace
