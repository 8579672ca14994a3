// Our Subscriptions made, found again, watched, renewed and removed, on virtual time, with a record whose faults are chosen.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>

#include "app/metrics.h"
#include "app/simulated_record_support.h"

namespace {

using app_test::FakeRecord;
using app_test::SubscribedDaemon;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;
using testing::HasSubstr;
using testing::Not;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const char* kProcedure = R"({"resourceType":"Procedure","id":"p1","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"invented"}})";

class OurSubscriptions : public testing::Test {
 protected:
  using Configure = std::function<void(profile::Configuration&)>;
  OurSubscriptions() : folder(app_test::fresh_folder("subscriptions")), record(kAt) {}
  void start(const Configure& configure = {}) {
    daemon.reset();
    daemon = std::make_unique<SubscribedDaemon>(folder, record, kAt, configure);
  }
  void settle() { daemon->pass(seconds{30}); }
  std::size_t looks() const { return record.count("GET Procedure?"); }
  json::Value only() const {
    const auto all = record.subscriptions();
    EXPECT_EQ(all.size(), 1u);
    return all.empty() ? json::Value() : all.front();
  }
  std::size_t line_of(const std::string& start, std::size_t from = 0) const {
    for (std::size_t n = from; n < record.log.size(); ++n)
      if (record.log[n].starts_with(start)) return n;
    return record.log.size();
  }

  std::string folder;
  FakeRecord record;
  std::unique_ptr<SubscribedDaemon> daemon;
};

TEST_F(OurSubscriptions, IsMadeBecomesActiveAndIsHeard) {
  start();
  settle();
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  const auto one = only();
  EXPECT_EQ(one["criteria"].text(), "Procedure?");
  EXPECT_EQ(one["end"].text(), "2026-03-09T13:00:00Z");
  EXPECT_EQ(daemon->call(one, "PUT", "/Procedure/p1", kProcedure).status, 200);
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_EQ(daemon->status_of("Procedure?").notices, 1);
  EXPECT_NE(daemon->status_of("Procedure?").last_heard, "");
  EXPECT_EQ(daemon->fatal, "");
}

TEST_F(OurSubscriptions, TheSecretIsAskedForAndShownNowhere) {
  start();
  settle();
  const auto one = only();
  EXPECT_EQ(daemon->call(one, "PUT", "/Procedure/p1", kProcedure, false).status, 401);
  EXPECT_FALSE(daemon->holds("Procedure", "p1"));
  const std::string secret = std::string(one["channel"]["header"].at(0).text()).substr(14);
  EXPECT_GE(secret.size(), 32u);
  const auto status = daemon->engine->status();
  EXPECT_THAT(json::write(report::status_json(status)), Not(HasSubstr(secret)));
  EXPECT_THAT(app::metrics_text(status), Not(HasSubstr(secret)));
  auto other = one;
  json::Value channel = other["channel"];
  channel.set("endpoint", std::string(channel["endpoint"].text()) + "9");
  other.set("channel", channel);
  EXPECT_EQ(daemon->call(other, "PUT", "/Procedure/p1", kProcedure).status, 404) << "no Subscription of that name";
  EXPECT_EQ(std::filesystem::status(folder + "/aftersheath.db").permissions() & std::filesystem::perms::mask, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write);
}

TEST_F(OurSubscriptions, ItIsLookedFirstThenMadeThenLookedOverTheOverlap) {
  record.put(kProcedure);
  start();
  settle();
  const auto made = line_of("POST Subscription");
  EXPECT_LT(line_of("GET Procedure?"), made);
  EXPECT_LT(line_of("GET Procedure?", made), record.log.size());
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
}

TEST_F(OurSubscriptions, AfterAKillAtAnyPointThereIsOne) {
  std::size_t whole = 0;
  {
    start();
    while (daemon->executor.step()) ++whole;
    daemon->pass(seconds{5});
  }
  for (std::size_t pieces = 0; pieces <= whole + 20; ++pieces) {
    for (const int lost : {0, 1}) {
      if (lost == 1 && pieces % 3 != 0) continue;
      daemon.reset();
      folder = app_test::fresh_folder("subscriptions");
      record = FakeRecord(kAt);
      record.lost_answers = lost;
      start();
      for (std::size_t n = 0; n < pieces && daemon->executor.step(); ++n) {
      }
      start();
      daemon->pass(minutes{6});
      EXPECT_EQ(record.subscriptions().size(), 1u) << pieces << " pieces, lost " << lost;
      EXPECT_EQ(daemon->status_of("Procedure?").state, "active") << pieces << " pieces, lost " << lost;
      EXPECT_EQ(daemon->status_of("Procedure?").id, record.subscriptions().front()["id"].text());
    }
  }
}

TEST_F(OurSubscriptions, AnAnswerThatIsLostMakesNoSecondOne) {
  record.lost_answers = 1;
  start();
  daemon->pass(minutes{5});
  EXPECT_EQ(record.count("POST Subscription"), 1u);
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  only();
}

TEST_F(OurSubscriptions, OneThatIsMadeOnceMoreIsRemoved) {
  start();
  settle();
  auto twin = only();
  twin.set("id", "twin");
  record.resources["Subscription/twin"] = twin;
  daemon->pass(minutes{2});
  EXPECT_EQ(only()["id"].text(), daemon->status_of("Procedure?").id);
}

TEST_F(OurSubscriptions, StraysOfOursGoAndOthersAreLeftAlone) {
  record.put(R"({"resourceType":"Subscription","id":"stray","meta":{"versionId":"1","tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"simulated"}]},"status":"active","criteria":"Task?","channel":{"endpoint":"http://old"}})");
  record.put(R"({"resourceType":"Subscription","id":"other","meta":{"versionId":"1","tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"another"}]},"status":"active","criteria":"Task?","channel":{"endpoint":"http://them"}})");
  record.put(R"({"resourceType":"Subscription","id":"bare","status":"active","criteria":"Task?","channel":{"endpoint":"http://somebody"}})");
  for (const bool by_tag : {true, false}) {
    record.searches_by_tag = by_tag;
    start();
    settle();
    EXPECT_FALSE(record.resources.contains("Subscription/stray"));
    EXPECT_TRUE(record.resources.contains("Subscription/other"));
    EXPECT_TRUE(record.resources.contains("Subscription/bare"));
    EXPECT_EQ(record.resources.size(), 3u);
  }
  EXPECT_EQ(record.count("PUT Subscription/other") + record.count("DELETE Subscription/other") + record.count("DELETE Subscription/bare"), 0u);
}

TEST_F(OurSubscriptions, WhereNothingMayBeDeletedAStrayIsSwitchedOff) {
  record.can_delete = false;
  record.put(R"({"resourceType":"Subscription","id":"stray","meta":{"versionId":"1","tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"simulated"}]},"status":"active","criteria":"Task?","channel":{"endpoint":"http://old"}})");
  start();
  daemon->pass(minutes{10});
  EXPECT_EQ(record.resources["Subscription/stray"]["status"].text(), "off");
  EXPECT_EQ(record.count("PUT Subscription/stray"), 1u) << "once";
}

TEST_F(OurSubscriptions, OneInErrorIsCaughtUpWithFirstAndThenRequestedAgain) {
  start();
  settle();
  auto broken = only();
  const std::string id(broken["id"].text());
  broken.set("status", "error");
  broken.set("error", "endpoint did not answer");
  record.resources["Subscription/" + id] = broken;
  record.put(kProcedure);
  record.activates = false;
  const auto before = record.log.size();
  daemon->pass(minutes{2});
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_TRUE(daemon->alarmed("endpoint did not answer"));
  const auto put = line_of("PUT Subscription/" + id, before);
  EXPECT_LT(line_of("GET Procedure?", before), put);
  ASSERT_LT(put, record.log.size());
  EXPECT_EQ(daemon->status_of("Procedure?").state, "requested");
  auto active = only();
  active.set("status", "active");
  record.resources["Subscription/" + id] = active;
  const auto then = record.log.size();
  daemon->pass(minutes{2});
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  EXPECT_LT(line_of("GET Procedure?", then), record.log.size()) << "once more over the overlap";
  EXPECT_FALSE(daemon->alarmed("endpoint did not answer"));
}

TEST_F(OurSubscriptions, OneThatIsGoneIsReplacedUnderAnotherSecret) {
  start();
  settle();
  const auto first = only();
  record.resources.clear();
  record.put(kProcedure);
  daemon->pass(minutes{3});
  const auto second = record.subscriptions();
  ASSERT_EQ(second.size(), 1u);
  EXPECT_NE(first["channel"]["header"].at(0).text(), second[0]["channel"]["header"].at(0).text());
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  EXPECT_TRUE(daemon->holds("Procedure", "p1"));
  EXPECT_EQ(daemon->call(first, "PUT", "/Procedure/p2", kProcedure).status, 404);
}

TEST_F(OurSubscriptions, OneThatStaysRequestedIsToldAfterTwoMinutes) {
  record.activates = false;
  start();
  daemon->pass(seconds{110});
  EXPECT_FALSE(daemon->alarmed("still requested"));
  daemon->pass(seconds{30});
  EXPECT_TRUE(daemon->alarmed("still requested"));
  EXPECT_EQ(record.count("POST Subscription"), 1u);
}

TEST_F(OurSubscriptions, ARecordThatTakesNoneIsSaidAndPollingGoesOn) {
  record.takes_subscriptions = false;
  start([](profile::Configuration& c) { c.subscriptions.form = "auto"; });
  settle();
  EXPECT_THAT(daemon->engine->status().subscriptions->why_none, HasSubstr("offers no Subscriptions"));
  EXPECT_EQ(record.count("POST Subscription"), 0u);
  start();  // configured all the same
  settle();
  EXPECT_EQ(daemon->status_of("Procedure?").state, "refused");
  EXPECT_TRUE(daemon->alarmed("takes no Subscription for Procedure?"));
  daemon->pass(minutes{30});
  EXPECT_EQ(record.count("POST Subscription"), 1u) << "not asked again and again";
}

// Backport guide, "Topic discovery": a record may keep its topics as Basic resources with the code SubscriptionTopic.
TEST_F(OurSubscriptions, ATopicThatTheRecordDoesNotKeepIsSaid) {
  const auto keep = [&](const char* id, const char* topic) {
    record.resources[std::string("Basic/") + id] = *json::parse(std::string(R"({"resourceType":"Basic","extension":[{"url":"http://hl7.org/fhir/5.0/StructureDefinition/extension-SubscriptionTopic.url","valueUri":")") + topic + "\"}]}");
  };
  record.by_topic = true;
  keep("t1", "https://record.example/topics/procedures");
  const auto configure = [](profile::Configuration& c) {
    c.subscriptions.form = "backport";
    c.subscriptions.topics = {"https://record.example/topics/procedures", "https://record.example/topics/values"};
  };
  start(configure);
  settle();
  EXPECT_TRUE(daemon->alarmed("does not name https://record.example/topics/values"));
  EXPECT_FALSE(daemon->alarmed("does not name https://record.example/topics/procedures"));
  EXPECT_EQ(record.count("POST Subscription"), 2u) << "asked for all the same";
}

TEST_F(OurSubscriptions, InShadowModeNothingIsAskedOfTheRecord) {
  start([](profile::Configuration& c) { c.record->mode = "shadow"; });
  daemon->pass(minutes{3});
  EXPECT_EQ(record.count("POST"), 0u);
  EXPECT_THAT(daemon->engine->status().subscriptions->why_none, HasSubstr("nothing is written"));
}

TEST_F(OurSubscriptions, BeforeItsEndAnotherTakesItsPlace) {
  start();
  settle();
  const auto first = only();
  record.clock += 6 * 86'400'000LL + 3'600'000;  // the record's own clock; ours stands
  daemon->pass(minutes{3});
  const auto second = only();
  EXPECT_NE(first["id"].text(), second["id"].text());
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  const auto made = line_of("POST Subscription", line_of("POST Subscription") + 1), removed = line_of("DELETE Subscription/" + std::string(first["id"].text()));
  EXPECT_LT(made, removed) << "they overlap";
  EXPECT_EQ(daemon->call(second, "PUT", "/Procedure/p1", kProcedure).status, 200);
}

TEST_F(OurSubscriptions, WhatIsNoLongerConfiguredIsRemoved) {
  start([](profile::Configuration& c) { c.subscriptions.criteria = {"Procedure?", "Task?"}; });
  settle();
  EXPECT_EQ(record.subscriptions().size(), 2u);
  start();
  settle();
  EXPECT_EQ(only()["criteria"].text(), "Procedure?");
  start([](profile::Configuration& c) { c.subscriptions.form = "none"; });
  settle();
  EXPECT_TRUE(record.subscriptions().empty());
  EXPECT_TRUE(daemon->engine->status().subscriptions->list.empty());
}

TEST_F(OurSubscriptions, ARecordThatIsAwayAtTheStartIsAskedUntilItAnswers) {
  record.down = true;
  start();
  daemon->pass(minutes{5});
  EXPECT_EQ(daemon->fatal, "");
  record.down = false;
  daemon->pass(minutes{2});
  EXPECT_EQ(daemon->status_of("Procedure?").state, "active");
  only();
}

TEST_F(OurSubscriptions, AThousandEmptyCallsAreNoWeapon) {
  start([](profile::Configuration& c) { c.subscriptions.payload = "empty"; });
  settle();
  const auto before = looks();
  for (int n = 0; n < 1000; ++n) ASSERT_EQ(daemon->call(only(), "POST", "", "").status, 200);
  EXPECT_LE(looks() - before, 1u);
  daemon->pass(seconds{60});
  EXPECT_LE(looks() - before, 2u) << "and one at the end of the pause";
  EXPECT_GE(looks() - before, 2u);
  EXPECT_EQ(daemon->status_of("Procedure?").notices, 1000);
}

}  // namespace
