// How many Tasks one patient is given in an hour.
#include "app/task_limit.h"

#include <gtest/gtest.h>

namespace app {
namespace {

using clinical::Change;
using clinical::ChangeKind;
using clinical::Instant;
using clinical::Item;
using clinical::ItemKind;
using clinical::Priority;
using clinical::Step;

const Instant kNow{std::chrono::seconds{1'772'460'000}};
constexpr std::chrono::minutes operator""_min(unsigned long long n) { return std::chrono::minutes{n}; }

Change fresh(Step step, int ordinal, std::chrono::minutes from_now, Priority priority = Priority::routine) {
  Item item;
  item.key.kind = ItemKind::task;
  item.key.step = step;
  item.key.ordinal = ordinal;
  item.start = kNow + from_now;
  item.priority = priority;
  item.milestone.emplace();
  return {ChangeKind::create, item.key, item, {}, {}};
}

std::vector<int> ordinals(const std::vector<Item>& items) {
  std::vector<int> all;
  for (const auto& item : items) all.push_back(item.key.ordinal);
  return all;
}

TEST(TaskLimit, TheLatestStartsWaitAndComeBackWhenTheOldestHasLeftTheHour) {
  clinical::Difference difference;
  for (int i : {3, 1, 4, 2}) difference.changes.push_back(fresh(Step::check_site, i, i * 15_min));
  const std::vector<Instant> given{kNow - 59_min, kNow - 20_min, kNow - 60_min, kNow - 200_min};  // the hour is open at its beginning: two of these count
  const auto held = hold_back(difference, given, 4, kNow);
  EXPECT_EQ(ordinals(held.items), (std::vector{3, 4}));
  EXPECT_EQ(difference.changes.size(), 2u);
  EXPECT_EQ(held.again_at, kNow + 1_min);
  ASSERT_TRUE(held.last_given);
  EXPECT_EQ(held.last_given->ordinal, 2);
}

TEST(TaskLimit, NothingIsHeldWithinIt) {
  clinical::Difference difference;
  difference.changes.push_back(fresh(Step::check_site, 1, 15_min));
  const auto held = hold_back(difference, {kNow - 1_min}, 2, kNow);
  EXPECT_TRUE(held.items.empty());
  EXPECT_FALSE(held.again_at);
  EXPECT_EQ(difference.changes.size(), 1u);
}

TEST(TaskLimit, WhatIsUrgentACallARequestForFactsAndAReplacementNeverWait) {
  clinical::Difference difference;
  difference.changes.push_back(fresh(Step::check_site, 1, 0_min, Priority::urgent));
  difference.changes.push_back(fresh(Step::remove_sheath, 0, 0_min, Priority::stat));
  difference.changes.push_back(fresh(Step::call_clinician, 0, 0_min));
  difference.changes.push_back(fresh(Step::provide_missing, 0, 0_min));
  difference.changes.back().item->milestone.reset();
  difference.changes.push_back(fresh(Step::raise_head, 0, 0_min));
  difference.changes.back().replaces = difference.changes.back().key;
  auto update = fresh(Step::sit_up, 0, 60_min);
  update.kind = ChangeKind::update;
  difference.changes.push_back(update);
  difference.changes.push_back(fresh(Step::dress_site, 0, 5_min));
  const auto held = hold_back(difference, {kNow - 1_min, kNow - 2_min}, 1, kNow);
  ASSERT_EQ(held.items.size(), 1u);
  EXPECT_EQ(held.items[0].key.step, Step::dress_site);
  EXPECT_EQ(difference.changes.size(), 6u);
}

}  // namespace
}  // namespace app
