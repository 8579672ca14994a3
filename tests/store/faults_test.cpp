#include <fmt/format.h>

#include "store/fault_vfs.h"
#include "store/story_support.h"

// Each fault is moved on by one until the story is told untouched, so every point is hit.
using namespace store;
using namespace store_test;

namespace {

constexpr int most = 2000;  // an end for a loop that would find none

SqliteOptions options_on(const FaultVfs& disk, const std::string& path) {
  SqliteOptions options;
  options.path = path;
  options.vfs_name = disk.name();
  options.checkpoint_pages = 20;  // so that checkpoints fall into the story
  return options;
}

// Thousands of stores are made and thrown away; what a power cut does is in FaultVfs, not in the real disk.
Folder in_memory() { return Folder("/dev/shm"); }

void expect_sound(const Story& story, const std::string& path, bool strict) {
  const auto found = must_open(path);
  ASSERT_TRUE(found);
  story.check(*found, strict);
}

TEST(StoreFaults, AFailedSyncIsFatalAndLosesNothingAcknowledged) {
  for (const bool for_ever : {false, true}) {
    for (int k = 1;; ++k) {
      SCOPED_TRACE(fmt::format("sync {}{}", k, for_ever ? " and all later ones" : ""));
      ASSERT_LT(k, most);
      const Folder folder = in_memory();
      FaultVfs disk("failing-sync", FaultVfs::Mode::power);
      disk.fail_sync(k, for_ever);
      Story story(options_on(disk, folder.file("store.db")));
      story.tell();
      const bool came = disk.fault_came();
      EXPECT_EQ(story.last_error(), came ? std::optional(ErrorKind::io_fatal) : std::nullopt);
      EXPECT_FALSE(story.went_on_after_failure());
      disk.lose_power(Damage::lost_tail);
      expect_sound(story, folder.file("store.db"), true);
      if (!came) {
        EXPECT_TRUE(story.untouched());
        EXPECT_GT(k, 20) << "the story has more syncs than that";
        break;
      }
    }
  }
}

void with_failing_writes(int code, ErrorKind expected) {
  for (const bool for_ever : {false, true}) {
    for (int k = 1;; ++k) {
      SCOPED_TRACE(fmt::format("write {}{}", k, for_ever ? " and all later ones" : ""));
      ASSERT_LT(k, most);
      const Folder folder = in_memory();
      FaultVfs disk("failing-write", FaultVfs::Mode::power);
      disk.fail_write(k, code, for_ever);
      Story story(options_on(disk, folder.file("store.db")));
      story.tell();
      const bool came = disk.fault_came();
      EXPECT_EQ(story.last_error(), story.untouched() ? std::nullopt : std::optional(expected));
      EXPECT_FALSE(story.went_on_after_failure());
      disk.lose_power(Damage::lost_tail);
      expect_sound(story, folder.file("store.db"), true);
      if (!came) {
        EXPECT_TRUE(story.untouched());
        EXPECT_GT(k, 50);
        break;
      }
    }
  }
}

TEST(StoreFaults, AFullDiskRefusesAndLosesNothing) { with_failing_writes(SQLITE_FULL, ErrorKind::full); }

TEST(StoreFaults, AFailedWriteIsFatalAndLosesNothingAcknowledged) { with_failing_writes(SQLITE_IOERR_WRITE, ErrorKind::io_fatal); }

class PowerCut : public testing::TestWithParam<std::pair<const char*, Damage>> {};

TEST_P(PowerCut, AtAnyPointLosesNothingAcknowledged) {
  int points = 0;
  for (int k = 1;; ++k, ++points) {
    SCOPED_TRACE(fmt::format("operation {}", k));
    ASSERT_LT(k, most);
    const Folder folder = in_memory();
    FaultVfs disk("power", FaultVfs::Mode::power);
    disk.cut_power_at(k);
    Story story(options_on(disk, folder.file("store.db")));
    story.tell();
    const bool came = disk.fault_came();
    if (!came) {
      EXPECT_TRUE(story.untouched());
    }
    disk.lose_power(GetParam().second, static_cast<unsigned>(k));
    expect_sound(story, folder.file("store.db"), true);
    if (!came) break;
  }
  EXPECT_GT(points, 100);
}

INSTANTIATE_TEST_SUITE_P(Damage, PowerCut,
                         testing::Values(std::pair("LostTail", Damage::lost_tail), std::pair("NothingLost", Damage::nothing_lost),
                                         std::pair("TornPage", Damage::torn_page), std::pair("Scattered", Damage::scattered)),
                         [](const auto& row) { return row.param.first; });

TEST(StoreFaults, AnAppendWhoseSyncFailsIsAnErrorAndTheLastWord) {
  const Folder folder = in_memory();
  FaultVfs disk("append", FaultVfs::Mode::pass_through);
  const auto db = must_open(options_on(disk, folder.file("store.db")));
  const std::vector<NewEvent> one{an_event("a")};
  must(db->append(one));
  disk.fail_sync(1);
  expect_error(db->append(one), ErrorKind::io_fatal);
  EXPECT_TRUE(disk.fault_came());
  ASSERT_TRUE(db->failure());
  expect_error(db->append(one), ErrorKind::io_fatal);
  expect_error(db->event(1), ErrorKind::io_fatal);
  expect_error(db->event_ledger(), ErrorKind::io_fatal);
  expect_error(db->transaction(1, [](Store&) { return Result<void>(); }), ErrorKind::io_fatal);
  expect_error(db->checkpoint(), ErrorKind::io_fatal);
}

TEST(StoreFaults, AfterAFullDiskHasRoomAgainTheStoreGoesOn) {
  const Folder folder = in_memory();
  FaultVfs disk("room", FaultVfs::Mode::pass_through);
  const auto db = must_open(options_on(disk, folder.file("store.db")));
  const std::vector<NewEvent> one{an_event("a")};
  disk.fail_write(1, SQLITE_FULL, true);
  expect_error(db->append(one), ErrorKind::full);
  EXPECT_EQ(must(db->event_ledger()).received, 0) << "reading goes on";
  EXPECT_FALSE(db->failure());
  disk.heal();
  EXPECT_EQ(must(db->append(one)).size(), 1u);
  must(db->verify());
}

TEST(StoreFaults, ABackupThatFailsLeavesNoFileAndTheStoreAlone) {
  const Folder folder = in_memory();
  FaultVfs disk("backup", FaultVfs::Mode::pass_through);
  const auto db = must_open(options_on(disk, folder.file("store.db")));
  must(db->put_case(a_case("p1")));
  for (int k = 1;; ++k) {
    SCOPED_TRACE(k);
    ASSERT_LT(k, most);
    disk.fail_write(k, k % 2 == 0 ? SQLITE_FULL : SQLITE_IOERR_WRITE);
    const auto copy = folder.file("copy.db");
    const auto done = db->backup_to(copy);
    EXPECT_NE(done.has_value(), disk.fault_came());
    if (done) break;
    EXPECT_EQ(done.error().kind, k % 2 == 0 ? ErrorKind::full : ErrorKind::logic) << done.error().text;
    EXPECT_FALSE(std::filesystem::exists(copy));
    EXPECT_FALSE(std::filesystem::exists(copy + ".part"));
    disk.heal();
    must(db->put_case(a_case("p1")));
  }
}

}  // namespace
