// What must not make the daemon deaf while it says that all is well: names whose resources do not come, searches that find nothing, Subscriptions that stand
// otherwise than wanted. On virtual time; what the record holds and does is invented.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "app/simulated_record_support.h"
#include "app/told.h"

namespace {

using app_test::FakeRecord;
using app_test::SubscribedDaemon;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const std::string kTopic = "https://record.example/topic/value";

std::string value(const std::string& id) {
  return fmt::format(R"({{"resourceType":"Observation","id":"{}","meta":{{"versionId":"1"}},"status":"final","subject":{{"reference":"Patient/nobody-here"}},"code":{{"text":"invented"}}}})", id);
}

class Deaf : public testing::Test {
 protected:
  Deaf() : folder(app_test::fresh_folder("deaf")), record(kAt) { record.by_topic = true; }
  void start(const std::function<void(profile::Configuration&)>& more = {}) {
    daemon.reset();
    daemon = std::make_unique<SubscribedDaemon>(folder, record, kAt, [more](profile::Configuration& c) {
      c.subscriptions.form = "auto";
      c.subscriptions.topics = {kTopic};
      if (more) more(c);
    });
    daemon->pass(seconds{20});
    if (!record.subscriptions().empty()) one = record.subscriptions().front();
  }
  /// A case whose Procedure the record has.
  void open_case() {
    record.put(R"({"resourceType":"Patient","id":"a","meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]},"identifier":[{"system":"urn:x","value":"1"},{"system":"urn:y","value":"2"}]})");
    record.put(R"({"resourceType":"Procedure","id":"p","meta":{"versionId":"1","lastUpdated":"2026-03-02T11:05:00Z"},"status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"coronary angiography"},
      "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],"performedPeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"}})");
  }
  std::string folder;
  FakeRecord record;
  json::Value one;
  std::unique_ptr<SubscribedDaemon> daemon;
};

TEST_F(Deaf, WhatWasOnlyNamedIsAskedForUntilItCanBeSeen) {
  start();
  ASSERT_EQ(daemon->push(one, 1, "Observation/late"), 200);
  EXPECT_FALSE(daemon->holds("Observation", "late")) << "404: not to be seen yet";
  record.put(value("late"));
  daemon->pass(seconds{60});
  EXPECT_TRUE(daemon->holds("Observation", "late"));
  EXPECT_EQ(daemon->store->meta("told of").value().value_or(""), "");
}

TEST_F(Deaf, WhatWasOnlyNamedOutlastsAKill) {
  record.put(value("unread"));
  start();
  record.down = true;
  ASSERT_EQ(daemon->push(one, 1, "Observation/unread"), 200);
  EXPECT_FALSE(daemon->holds("Observation", "unread"));
  record.down = false;
  start();
  EXPECT_TRUE(daemon->holds("Observation", "unread"));
}

TEST_F(Deaf, WhatIsNeverShownIsAPersonsMatterAndAnOutageIsNot) {
  start();
  record.down = true;
  ASSERT_EQ(daemon->push(one, 1, "Observation/forbidden"), 200);
  daemon->pass(hours{12});
  EXPECT_FALSE(daemon->alarmed("Observation/forbidden")) << "nothing was answered: it is asked for as long as that lasts";
  record.down = false;
  record.answers["Observation/forbidden"] = 403;
  daemon->pass(hours{3});
  EXPECT_TRUE(daemon->alarmed("Observation/forbidden"));
  const auto asked = record.count("GET Observation/forbidden");
  daemon->pass(hours{3});
  EXPECT_EQ(record.count("GET Observation/forbidden"), asked) << "given up";
}

TEST_F(Deaf, ManyNamesLeaveRoomForSearches) {
  for (int n = 0; n < 300; ++n) record.put(value(fmt::format("v{}", n)));
  start();
  record.log.clear();
  for (int n = 0; n < 300; ++n) record.events[std::string(one["id"].text())].push_back(fmt::format("Observation/v{}", n));
  // All at once, as one Bundle of a busy minute.
  std::string events;
  for (int n = 0; n < 300; ++n)
    events += fmt::format(R"(,{{"name":"notification-event","part":[{{"name":"event-number","valueString":"{}"}},{{"name":"focus","valueReference":{{"reference":"Observation/v{}"}}}}]}})", n + 1, n);
  const std::string id(one["id"].text());
  const std::string bundle = fmt::format(R"({{"resourceType":"Bundle","type":"history","entry":[{{"resource":{{"resourceType":"Parameters","parameter":[
    {{"name":"subscription","valueReference":{{"reference":"Subscription/{0}"}}}},{{"name":"status","valueCode":"active"}},{{"name":"type","valueCode":"event-notification"}},
    {{"name":"events-since-subscription-start","valueString":"300"}}{1}]}},"request":{{"method":"GET","url":"Subscription/{0}/$status"}}}}]}})", id, events);
  daemon->engine->look_again([] {});
  ASSERT_EQ(daemon->call(one, "POST", "", bundle).status, 200);
  daemon->pass(seconds{30});
  EXPECT_EQ(record.count("GET Observation/v"), 300u);
  std::size_t longest = 0, run = 0, searches = 0;
  bool all_read = false;
  for (std::size_t n = 0, read = 0; n < record.log.size() && !all_read; ++n) {
    const bool single = record.log[n].starts_with("GET Observation/v");
    read += single ? 1 : 0, run = single ? run + 1 : 0, searches += record.log[n].starts_with("GET Procedure?") ? 1 : 0;
    longest = std::max(longest, searches == 0 ? run : 0);
    all_read = read == 300;
  }
  EXPECT_GE(searches, 1u) << "the round that was wanted did not wait for all of them";
  EXPECT_LE(longest, 20u);
}

TEST(Told, IsKeptCountedAndBounded) {
  const auto folder = app_test::fresh_folder("told");
  store::SqliteOptions options;
  options.path = folder + "/aftersheath.db";
  auto store = std::move(*store::open_sqlite(options));
  {
    app::Told told(*store);
    EXPECT_TRUE(told.add({"Observation/b", "Procedure/a"}));
    EXPECT_TRUE(told.unanswered({"Procedure/a"}).empty());
  }
  app::Told told(*store);
  EXPECT_EQ(told.all(), (std::vector<std::string>{"Observation/b", "Procedure/a"}));
  for (int n = 2; n < app::Told::kTries; ++n) EXPECT_TRUE(told.unanswered({"Procedure/a"}).empty()) << n;
  EXPECT_EQ(told.unanswered({"Procedure/a"}), std::vector<std::string>{"Procedure/a"});
  told.settled({"Observation/b", "Observation/unknown"});
  EXPECT_TRUE(told.empty());
  EXPECT_TRUE(app::Told(*store).empty());
  std::vector<std::string> many;
  for (std::size_t n = 0; n <= app::Told::kMost; ++n) many.push_back(fmt::format("Observation/{}", n));
  EXPECT_FALSE(told.add(many));
  EXPECT_TRUE(told.empty()) << "all or none";
}

TEST_F(Deaf, ASearchForChangedProceduresThatFindsNothingIsFoundOut) {
  record.takes_subscriptions = false;
  open_case();
  const auto each_minute = [](profile::Configuration& c) { c.record->look_seconds = 60; };
  start(each_minute);
  EXPECT_TRUE(daemon->holds("Procedure", "p"));
  daemon->pass(minutes{3});
  EXPECT_FALSE(daemon->alarmed("search for changed Procedures"));
  record.hides_changed = {"Procedure"};
  start(each_minute);  // proved once a run
  daemon->pass(minutes{3});
  EXPECT_TRUE(daemon->alarmed("does not show Procedure/p"));
  EXPECT_EQ(daemon->engine->status().looking.procedures, "only when sent");
  record.hides_changed.clear();
  daemon->pass(minutes{40});
  EXPECT_FALSE(daemon->alarmed("does not show Procedure/p")) << "it is tried again";
}

TEST_F(Deaf, ASubscriptionThatStandsOtherwiseThanWantedIsWrittenAnew) {
  start();
  for (const char* what : {"endpoint", "header"}) {
    json::Value body = record.resources.at("Subscription/" + std::string(one["id"].text())), channel = body["channel"];
    if (std::string_view(what) == "endpoint") channel.set("endpoint", "http://127.0.0.1:8/elsewhere");
    else channel.set("header", json::Value::array({"X-Other: 1"}));
    body.set("channel", channel);
    record.put(json::write(body));
    daemon->pass(minutes{3});
    EXPECT_EQ(record.subscriptions().size(), 1u) << what;
    EXPECT_EQ(record.subscriptions().front()["channel"]["endpoint"].text(), one["channel"]["endpoint"].text()) << what;
    EXPECT_EQ(record.subscriptions().front()["channel"]["header"].at(0).text(), one["channel"]["header"].at(0).text()) << what;
    EXPECT_EQ(daemon->status_of(kTopic).state, "active") << what;
    EXPECT_FALSE(daemon->alarmed("is not what is wanted")) << what;
  }
  start([](profile::Configuration& c) { c.subscriptions.endpoint = "http://127.0.0.1:7/fhir"; });
  daemon->pass(minutes{3});
  ASSERT_EQ(record.subscriptions().size(), 1u);
  EXPECT_TRUE(record.subscriptions().front()["channel"]["endpoint"].text().starts_with("http://127.0.0.1:7/")) << "it has moved in the configuration";
}

TEST_F(Deaf, AShortLifeThatTheRecordGrantsMakesNoneInADozen) {
  record.longest_life = 3'600'000;
  start();
  std::size_t most = 0;
  for (int n = 0; n < 120; ++n) {
    daemon->pass(minutes{1});
    record.clock += 60'000;
    most = std::max(most, record.subscriptions().size());
  }
  EXPECT_LE(most, 2u) << "one, and for a while the next";
  EXPECT_LE(record.count("POST Subscription"), 4u) << "two hours of one hour each";
  EXPECT_EQ(daemon->status_of(kTopic).state, "active");
}

TEST_F(Deaf, NoHeartbeatIsMissedThatTheRecordDoesNotPromise) {
  record.keeps_extensions = false;
  start();
  const auto looks = record.count("GET Procedure?");
  daemon->pass(seconds{59});
  daemon->pass(minutes{20});
  EXPECT_FALSE(daemon->alarmed("no heartbeat"));
  EXPECT_LE(record.count("GET Procedure?"), looks + 2) << "no look every two periods";
}

TEST_F(Deaf, OneThatTheRecordCannotReachIsNotRequestedEveryMinute) {
  start();
  std::size_t before = record.count("PUT Subscription");
  for (int n = 0; n < 120; ++n) {
    json::Value body = record.subscriptions().front();
    body.set("status", "error");
    record.put(json::write(body));
    daemon->pass(minutes{1});
  }
  EXPECT_LE(record.count("PUT Subscription") - before, 30u);
  EXPECT_GE(record.count("PUT Subscription") - before, 5u) << "and not given up";
}

TEST_F(Deaf, ANameThatIsNeverShownMakesNoOtherWait) {
  start();
  ASSERT_EQ(daemon->push(one, 1, "Observation/never"), 200);
  daemon->pass(minutes{30});
  ASSERT_EQ(daemon->push(one, 2, "Observation/late"), 200);
  record.put(value("late"));
  daemon->pass(seconds{8});
  EXPECT_TRUE(daemon->holds("Observation", "late"));
}

TEST_F(Deaf, ANameThatIsToldAgainIsAskedForAsIfForTheFirstTime) {
  start();
  ASSERT_EQ(daemon->push(one, 1, "Observation/late"), 200);
  daemon->pass(minutes{15});  // minutes lie between two tries by now
  ASSERT_EQ(daemon->push(one, 2, "Observation/late"), 200);
  daemon->pass(seconds{2});
  record.put(value("late"));
  daemon->pass(seconds{8});
  EXPECT_TRUE(daemon->holds("Observation", "late"));
}

TEST_F(Deaf, OneThatIsAnsweredWithAFaultIsAPersonsMatterAndHoldsUpNone) {
  start();
  record.answers["Observation/bad"] = 500;
  record.put(value("good"));
  ASSERT_EQ(daemon->push(one, 1, "Observation/bad"), 200);
  ASSERT_EQ(daemon->push(one, 2, "Observation/good"), 200);
  daemon->pass(minutes{1});
  EXPECT_TRUE(daemon->holds("Observation", "good"));
  EXPECT_EQ(record.count("GET Observation/good"), 1u) << "it is not asked for again beside the other";
  daemon->pass(hours{3});
  EXPECT_TRUE(daemon->alarmed("Observation/bad"));
}

TEST_F(Deaf, WrongSecretsOfAnybodyDoNotWriteASubscriptionAnew) {
  start();
  const auto puts = [&] { return record.count("PUT Subscription"); };
  const auto before = puts();
  for (int n = 0; n < 3; ++n) {
    EXPECT_EQ(daemon->call(one, "POST", "", "{}", false).status, 401);
    daemon->pass(minutes{10});
  }
  EXPECT_EQ(puts(), before) << "the record shows our secret";
}

TEST_F(Deaf, RoundsGoOnBesideNamesThatCome) {
  for (int n = 0; n < 2000; ++n) record.put(value(fmt::format("v{}", n)));
  start([](profile::Configuration& c) { c.record->look_seconds = 5; });
  const auto before = record.count("GET Procedure?");
  for (int n = 0; n < 60; ++n) {
    for (int m = 0; m < 30; ++m) ASSERT_EQ(daemon->push(one, n * 30 + m + 1, fmt::format("Observation/v{}", n * 30 + m)), 200);
    daemon->pass(seconds{2});
  }
  EXPECT_GE(record.count("GET Procedure?") - before, 15u) << "in two minutes of rounds of five seconds";
}

class DeafToSearches : public Deaf {
 protected:
  void begin() {
    record.takes_subscriptions = false;
    open_case();
    record.put(dose("2026-03-02T10:10:00Z", "1"));
    start([](profile::Configuration& c) { c.record->look_seconds = 60; });
    ASSERT_TRUE(daemon->holds("Procedure", "p"));
    ASSERT_TRUE(daemon->holds("MedicationAdministration", "m"));
  }
  static std::string dose(const std::string& at, const std::string& version, const std::string& patient = "a", const std::string& status = "completed") {
    return fmt::format(R"({{"resourceType":"MedicationAdministration","id":"m","meta":{{"versionId":"{1}","lastUpdated":"{0}"}},"status":"{3}","subject":{{"reference":"Patient/{2}"}},
      "medicationCodeableConcept":{{"text":"heparin"}},"effectiveDateTime":"{0}","dosage":{{"dose":{{"value":5000,"unit":"[iU]","system":"http://unitsofmeasure.org","code":"[iU]"}}}}}})", at, version, patient, status);
  }
  std::string patient_of_dose() {
    const auto fact = daemon->store->current("", "MedicationAdministration", "m").value();
    return fact && !fact->deleted ? fact->patient : "";
  }
};

TEST_F(DeafToSearches, WhatHasMovedToAnotherPatientIsLetGo) {
  begin();
  record.put(dose("2026-03-02T13:05:00Z", "2", "b"));
  daemon->pass(minutes{25});
  EXPECT_EQ(patient_of_dose(), "Patient/b");
}

TEST_F(DeafToSearches, WhatTheSearchesLeaveOutBecauseItIsInErrorIsReadByItself) {
  begin();
  record.put(dose("2026-03-02T13:05:00Z", "2", "a", "entered-in-error"));
  record.never_found = {"MedicationAdministration/m"};
  daemon->pass(minutes{25});
  EXPECT_EQ(daemon->store->current("", "MedicationAdministration", "m").value()->version_id, "2");
}

TEST_F(DeafToSearches, ASearchThatStopsFindingIsFoundOut) {
  begin();
  daemon->pass(minutes{5});
  record.hides_changed = {"MedicationAdministration"};
  record.put(dose("2026-03-02T12:30:00Z", "2"));
  daemon->pass(minutes{30});
  EXPECT_EQ(daemon->store->current("", "MedicationAdministration", "m").value()->version_id, "2");
  record.hides_changed = {"Procedure"};
  daemon->pass(minutes{30});
  EXPECT_TRUE(daemon->alarmed("does not show Procedure/p"));
}

TEST_F(DeafToSearches, ASearchByDateThatFindsNothingIsFoundOut) {
  record.hides_dated = {"MedicationAdministration"};
  begin();
}

TEST_F(DeafToSearches, OneRefusalIsTheDaysAndNoMore) {
  begin();
  record.answers["Procedure"] = 403;
  const std::string path = [&] {
    daemon->pass(seconds{61});
    for (auto line = record.log.rbegin(); line != record.log.rend(); ++line)
      if (line->starts_with("GET Procedure?_lastUpdated")) return line->substr(4);
    return std::string();
  }();
  record.answers[path] = 403;
  daemon->pass(seconds{61});
  const auto before = record.count("GET Procedure?_lastUpdated");
  record.answers.clear();
  daemon->pass(minutes{3});
  EXPECT_GE(record.count("GET Procedure?_lastUpdated") - before, 2u);
}

TEST_F(Deaf, ASubscriptionWithOtherCriteriaOrAnotherSecretIsWrittenAnew) {
  start();
  for (const char* what : {"criteria", "secret"}) {
    json::Value body = record.resources.at("Subscription/" + std::string(one["id"].text())), channel = body["channel"];
    const auto wanted = one[what == std::string_view("secret") ? "channel" : "criteria"];
    if (what == std::string_view("criteria")) body.set("criteria", "https://record.example/topic/other");
    else channel.set("header", json::Value::array({"X-Sender-Key: " + std::string(64, 'a')})), body.set("channel", channel);
    record.put(json::write(body));
    daemon->pass(minutes{3});
    EXPECT_EQ(record.subscriptions().front()["criteria"].text(), one["criteria"].text()) << what;
    EXPECT_EQ(record.subscriptions().front()["channel"]["header"].at(0).text(), one["channel"]["header"].at(0).text()) << what;
    EXPECT_EQ(daemon->status_of(kTopic).state, "active") << what;
  }
  const auto mask = [&] {  // some records show that there is a secret, and not which
    json::Value body = record.resources.at("Subscription/" + std::string(one["id"].text())), channel = body["channel"];
    channel.set("header", json::Value::array({"X-Sender-Key: ***"})), body.set("channel", channel);
    record.put(json::write(body));
  };
  for (const unsigned more : {1u, 0u, 0u}) {  // anybody may call: not more often than every six hours
    mask();
    const auto before = record.count("PUT Subscription");
    EXPECT_EQ(daemon->call(one, "POST", "", "", false).status, 401);
    daemon->pass(minutes{3});
    EXPECT_EQ(record.count("PUT Subscription"), before + more);
  }
}

}  // namespace
