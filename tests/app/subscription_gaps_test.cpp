// Subscriptions with topics that are not heard as they should be: missing events, a counter that falls, heartbeats that stop, clocks that jump.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "app/simulated_record_support.h"

namespace {

using app_test::FakeRecord;
using app_test::SubscribedDaemon;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const std::string kTopic = "https://record.example/topic/case";

class Gaps : public testing::Test {
 protected:
  Gaps() : folder(app_test::fresh_folder("gaps")), record(kAt) { record.by_topic = true; }
  void start() {
    daemon.reset();
    daemon = std::make_unique<SubscribedDaemon>(folder, record, kAt, [this](profile::Configuration& c) {
      c.subscriptions.form = "auto";
      c.subscriptions.topics = {kTopic};
      c.subscriptions.heartbeat_seconds = heartbeat;
    });
    daemon->pass(seconds{20});
    ASSERT_EQ(row().state, "active");
    one = record.subscriptions().front();
  }
  /// Something happens at the record: it is there, and counted.
  std::string happens() {
    const std::string id = "p" + std::to_string(record.events[id_of()].size() + 1);
    record.put(R"({"resourceType":"Procedure","id":")" + id + R"(","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"invented"}})");
    record.events[id_of()].push_back("Procedure/" + id);
    return "Procedure/" + id;
  }
  std::string id_of() const { return std::string(one["id"].text()); }
  report::Status::Subscription row() { return daemon->status_of(kTopic); }
  std::size_t looks() const { return record.count("GET Procedure?"); }
  /// Events first..last happen; those in `told` are pushed in that order.
  void play(int count, const std::vector<int>& told) {
    const auto before = static_cast<int>(record.events[id_of()].size());
    std::vector<std::string> all;
    for (int n = 0; n < count; ++n) all.push_back(happens());
    for (const int n : told) ASSERT_EQ(daemon->push(one, before + n, all[static_cast<std::size_t>(n - 1)]), 200);
  }

  std::string folder;
  FakeRecord record;
  int heartbeat = 60;
  json::Value one;
  std::unique_ptr<SubscribedDaemon> daemon;
};

TEST_F(Gaps, WhatIsToldIsFetchedAtOnce) {
  start();
  EXPECT_EQ(daemon->push(one, 0, "", "handshake"), 200);
  play(2, {1, 2});
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_TRUE(daemon->holds("Procedure", "p2"));
  EXPECT_EQ(row().last_number, 2);
  EXPECT_EQ(row().gaps_opened, 0);
}

TEST_F(Gaps, MissingEventsAreFetchedByNumberAfterAGraceTime) {
  start();
  play(5, {1, 5});
  EXPECT_EQ(row().gaps_open, 1);
  const auto before = looks();
  daemon->pass(seconds{9});
  EXPECT_EQ(record.count("GET Subscription/" + id_of() + "/$events"), 0u);
  daemon->pass(seconds{2});
  EXPECT_EQ(record.count("GET Subscription/" + id_of() + "/$events?eventsSinceNumber=2&eventsUntilNumber=4"), 1u);
  for (const char* id : {"p2", "p3", "p4"}) EXPECT_TRUE(daemon->holds("Procedure", id)) << id;
  EXPECT_EQ(row().gaps_open, 0);
  EXPECT_EQ(row().gaps_opened, 1);
  EXPECT_EQ(row().epoch, 1);
  EXPECT_EQ(looks(), before) << "no need to ask for everything";
}

TEST_F(Gaps, LateOnesCloseTheGapBeforeAnythingIsAsked) {
  start();
  play(5, {1, 4, 2, 5, 3});
  daemon->pass(seconds{30});
  EXPECT_EQ(row().gaps_open, 0);
  EXPECT_EQ(record.count("GET Subscription/" + id_of() + "/$events"), 0u);
}

TEST_F(Gaps, WhereEventsCannotBeFetchedTheRecordIsLookedOver) {
  record.has_events = false;
  start();
  const auto before = looks();
  play(3, {3});
  daemon->pass(seconds{12});
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_TRUE(daemon->holds("Procedure", "p2"));
  EXPECT_EQ(looks(), before + 1);
  EXPECT_EQ(row().gaps_open, 0);
}

TEST_F(Gaps, AGapOutlastsAKill) {
  start();
  play(3, {1, 3});
  daemon.reset();
  daemon = std::make_unique<SubscribedDaemon>(folder, record, kAt, [](profile::Configuration& c) {
    c.subscriptions.form = "backport";
    c.subscriptions.topics = {kTopic};
  });
  daemon->pass(seconds{30});
  EXPECT_TRUE(daemon->holds("Procedure", "p2"));
  EXPECT_EQ(row().gaps_open, 0);
  EXPECT_EQ(record.count("POST Subscription"), 1u);
}

TEST_F(Gaps, ACounterThatFallsOpensAnEpochAndEverythingIsAskedFor) {
  start();
  play(4, {1, 2, 3, 4});
  record.put(R"({"resourceType":"Procedure","id":"unheard","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"invented"}})");
  record.events[id_of()].clear();
  const auto before = looks();
  play(1, {1});
  ASSERT_EQ(row().epoch, 1) << "the same event again, as far as anybody can tell";
  EXPECT_EQ(daemon->push(one, 1, "Procedure/another"), 200);
  EXPECT_EQ(row().epoch, 2);
  EXPECT_GT(looks(), before);
  EXPECT_TRUE(daemon->holds("Procedure", "unheard"));
  EXPECT_EQ(daemon->push(one, 0, "", "heartbeat"), 200);
  EXPECT_EQ(row().epoch, 2) << "it may have been overtaken";
  EXPECT_EQ(daemon->push(one, 0, "", "heartbeat"), 200);
  EXPECT_EQ(row().epoch, 3);
}

TEST_F(Gaps, AHeartbeatThatCountsFurtherTellsOfLostEvents) {
  start();
  play(2, {});
  EXPECT_EQ(daemon->push(one, 2, "", "heartbeat"), 200);
  EXPECT_EQ(row().gaps_open, 1);
  daemon->pass(seconds{11});
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_TRUE(daemon->holds("Procedure", "p2"));
}

TEST_F(Gaps, TwoMissingHeartbeatsAndTheRecordIsAsked) {
  start();
  for (int n = 0; n < 10; ++n) {
    ASSERT_EQ(daemon->push(one, 0, "", "heartbeat"), 200);
    daemon->pass(seconds{60});
  }
  EXPECT_FALSE(daemon->alarmed("no heartbeat"));
  EXPECT_EQ(record.count("GET Subscription/$status"), 0u);
  play(2, {});  // and nothing of it reaches us
  const auto before = looks();
  daemon->pass(seconds{70});
  EXPECT_EQ(record.count("GET Subscription/$status?id=" + id_of()), 1u);
  EXPECT_TRUE(daemon->alarmed("no heartbeat"));
  EXPECT_GT(looks(), before);
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_TRUE(daemon->holds("Procedure", "p2"));
  daemon->pass(seconds{15});
  EXPECT_EQ(row().last_number, 2);
  EXPECT_EQ(row().gaps_open, 0);
  EXPECT_EQ(daemon->push(one, 2, "", "heartbeat"), 200);
  EXPECT_FALSE(daemon->alarmed("no heartbeat"));
}

TEST_F(Gaps, StatusIsAskedOneByOneOrReadWhereTheRecordKnowsNoBetter) {
  record.has_type_status = false;
  start();
  play(1, {});
  daemon->pass(seconds{130});
  EXPECT_EQ(record.count("GET Subscription/" + id_of() + "/$status"), 1u);
  EXPECT_EQ(row().last_number, 1);
  record.has_status = false;
  daemon->pass(seconds{130});
  EXPECT_TRUE(daemon->alarmed("no heartbeat"));
  EXPECT_EQ(row().state, "active");
}

TEST_F(Gaps, NoHeartbeatIsMissedWhereNoneIsAskedFor) {
  heartbeat = 0;
  start();
  daemon->pass(minutes{60});
  EXPECT_FALSE(daemon->alarmed("no heartbeat"));
  EXPECT_EQ(record.count("GET Subscription/$status"), 0u);
}

TEST_F(Gaps, ClocksThatJumpTenMinutesEitherWayChangeNothing) {
  start();
  const auto made = record.count("POST Subscription");
  for (const app::Millis jump : {600'000, -600'000, -600'000, 600'000}) {
    daemon->clock->offset += jump;
    for (int n = 0; n < 4; ++n) {
      ASSERT_EQ(daemon->push(one, static_cast<std::int64_t>(record.events[id_of()].size()), "", "heartbeat"), 200);
      daemon->pass(seconds{45});
    }
    play(2, {1, 2});
    record.clock += jump;  // and the record's
    daemon->pass(seconds{45});
    EXPECT_FALSE(daemon->alarmed("heartbeat")) << jump;
    EXPECT_EQ(row().state, "active");
    EXPECT_EQ(row().epoch, 1);
    EXPECT_EQ(row().gaps_opened, 0);
    EXPECT_GE(row().heard_seconds, 0);
  }
  EXPECT_EQ(record.count("POST Subscription"), made) << "not renewed";
  EXPECT_EQ(row().last_number, 8);
}

TEST_F(Gaps, AVoiceThatIsNotItsOwnIsToldAndCountsForNothing) {
  start();
  json::Value stranger = one;
  stranger.set("id", "somebody-else");
  EXPECT_EQ(daemon->push(stranger, 7, "Procedure/p7"), 200);
  EXPECT_TRUE(daemon->alarmed("mixes up its addresses"));
  EXPECT_EQ(row().last_number, 0);
  EXPECT_EQ(row().gaps_open, 0);
}

}  // namespace
