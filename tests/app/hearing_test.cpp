// Counting what is heard of a Subscription: gaps, late ones, repeats, a counter that begins anew.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "app/hooks.h"
#include "app/subscription_hearing.h"

namespace {

using app::Heard;

class Hearings : public testing::Test {
 protected:
  Hearings() { row.last_number = 0; }
  app::Hearing event(std::int64_t n, const std::string& print = "a", std::optional<std::int64_t> total = {}) {
    Heard heard{.name = "x", .type = "event-notification", .since_start = total ? total : n};
    heard.numbers = {{n, print + std::to_string(n)}};
    return hear(row, heard, ++now, fall);
  }
  app::Hearing says(const std::string& type, std::int64_t total, bool asked = false) { return hear(row, Heard{.name = "x", .asked = asked, .type = type, .since_start = total}, ++now, fall); }
  store::Subscription row;
  app::Fall fall;
  store::Millis now = 1000;
};

TEST_F(Hearings, EventsInOrderLeaveNothingOpen) {
  EXPECT_FALSE(says("handshake", 0).gap_opened);
  for (std::int64_t n = 1; n <= 300; ++n) EXPECT_FALSE(event(n).gap_opened) << n;
  EXPECT_EQ(row.last_number, 300);
  EXPECT_EQ(row.gaps, "");
  EXPECT_EQ(row.epoch, 1);
  EXPECT_EQ(row.notices, 301);
  EXPECT_EQ(row.heard_at, 1301);
}

TEST_F(Hearings, AJumpOpensAGapThatLateOnesFill) {
  event(1);
  EXPECT_TRUE(event(5).gap_opened);
  EXPECT_EQ(row.gaps, "2-4");
  EXPECT_FALSE(event(3).gap_opened);
  EXPECT_EQ(row.gaps, "2-2 4-4");
  event(2);
  event(4);
  EXPECT_EQ(row.gaps, "");
  EXPECT_EQ(row.last_number, 5);
  EXPECT_EQ(row.epoch, 1);
}

TEST_F(Hearings, ARepeatIsNothingNew) {
  event(1);
  event(2);
  EXPECT_FALSE(event(1).epoch_opened);
  EXPECT_FALSE(event(2).epoch_opened);
  EXPECT_EQ(row.last_number, 2);
}

TEST_F(Hearings, AHeartbeatTellsOfEventsThatNeverCame) {
  event(1);
  EXPECT_TRUE(says("heartbeat", 3).gap_opened);
  EXPECT_EQ(row.gaps, "2-3");
  EXPECT_FALSE(says("heartbeat", 3).gap_opened) << "once";
}

TEST_F(Hearings, ACounterThatFallsBeginsANewEpoch) {
  for (std::int64_t n = 1; n <= 7; ++n) event(n);
  event(9);
  EXPECT_TRUE(event(1, "other").epoch_opened) << "another event under a number that was heard";
  EXPECT_EQ(row.epoch, 2);
  EXPECT_EQ(row.last_number, 1);
  EXPECT_EQ(row.gaps, "") << "nothing of the old numbers holds";
  EXPECT_FALSE(event(2, "other").gap_opened);
  EXPECT_FALSE(says("heartbeat", 1).epoch_opened) << "made before the last event, and overtaken by it";
  EXPECT_EQ(row.last_number, 2);
  EXPECT_FALSE(says("heartbeat", 2).epoch_opened);
  EXPECT_FALSE(says("heartbeat", 0).epoch_opened);
  EXPECT_TRUE(says("heartbeat", 0).epoch_opened) << "seen again";
  EXPECT_EQ(row.epoch, 3);
  event(1, "third");
  EXPECT_TRUE(says("handshake", 0).epoch_opened) << "surely";
}

TEST_F(Hearings, OneFarBelowTheRememberedOnesIsARepeatUntilTheCountGoesOnFromThere) {
  for (std::int64_t n = 1; n <= 1000; ++n) event(n);
  EXPECT_FALSE(event(700).epoch_opened) << "a late repeat";
  event(1001);
  EXPECT_FALSE(event(1, "new").epoch_opened);
  EXPECT_FALSE(event(1, "new").epoch_opened) << "sent twice";
  EXPECT_EQ(row.last_number, 1001);
  EXPECT_TRUE(event(2, "new").epoch_opened);
  EXPECT_EQ(row.last_number, 2);
}

TEST_F(Hearings, WhatWasAskedForIsNoSignThatCallsArrive) {
  event(1);
  event(4);
  const auto heard_at = row.heard_at;
  Heard answer{.name = "x", .asked = true, .type = "query-event", .since_start = 4};
  answer.numbers = {{1, "otherwise"}, {2, "b"}, {3, "c"}};
  EXPECT_FALSE(hear(row, answer, 9999, fall).epoch_opened) << "an answer may show a known event in another form";
  EXPECT_EQ(row.gaps, "");
  EXPECT_EQ(row.heard_at, heard_at);
  EXPECT_TRUE(says("query-status", 6, true).gap_opened);
}

TEST_F(Hearings, WhatSpeaksForAnotherSubscriptionCountsForNothing) {
  row.server_id = "mine";
  Heard heard{.name = "x", .type = "heartbeat", .subscription_id = "another", .since_start = 9};
  EXPECT_TRUE(hear(row, heard, 5000, fall).misrouted);
  EXPECT_EQ(row.last_number, 0);
  EXPECT_EQ(row.heard_at, 0);
}

TEST_F(Hearings, TheFirstNumberOfAnUnknownCountOpensNoGap) {
  row.last_number = -1;
  EXPECT_FALSE(event(40).gap_opened);
  EXPECT_TRUE(event(42).gap_opened);
}

TEST_F(Hearings, TheLargestNumbersAreOneRange) {
  constexpr auto kMost = std::numeric_limits<std::int64_t>::max();
  event(1);
  EXPECT_TRUE(event(kMost).gap_opened);
  EXPECT_EQ(row.gaps, "2-9223372036854775806");
  app::close_gaps(row, kMost);
  EXPECT_EQ(row.gaps, "");
  EXPECT_FALSE(says("heartbeat", kMost).gap_opened);
}

TEST_F(Hearings, VeryManyGapsBecomeOne) {
  for (std::int64_t n = 2; n <= 400; n += 2) event(n);
  EXPECT_LE(app::gaps_of(row).size(), 64u);
  EXPECT_TRUE(row.gaps.starts_with("1-"));
}

TEST_F(Hearings, GapsAreClosedUpToWhatWasLookedFor) {
  event(3);
  event(9);
  app::close_gaps(row, 5);
  EXPECT_EQ(row.gaps, "6-8");
}

TEST(Hooks, KnowOursAndCompareTheSecret) {
  app::Hooks hooks;
  hooks.name("record", "as-x-", "X-Sender-Key");
  hooks.put("as-x-1", {"secret", false});
  const auto at = [](const char* target) { return app::intake_path("POST", target); };
  using enum app::Hooks::Verdict;
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/as-x-1"), {{"x-sender-key", "secret"}}), genuine);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/as-x-1/Task/t"), {{"x-sender-key", "secret"}}), genuine);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/as-x-1"), {{"x-sender-key", "secreT"}}), forged);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/as-x-1"), {}), forged);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/as-x-2"), {{"x-sender-key", "secret"}}), unknown);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/other/as-x-1"), {{"x-sender-key", "secret"}}), not_ours);
  EXPECT_EQ(hooks.judge(at("/fhir/hook/record/ward"), {}), not_ours);
  EXPECT_EQ(hooks.judge(at("/fhir"), {}), not_ours);
  EXPECT_EQ(app::fresh_secret().size(), 64u) << "256 bits";
  EXPECT_NE(app::fresh_secret(), app::fresh_secret());
}

}  // namespace
