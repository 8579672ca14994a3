// Searches that answer otherwise than they are asked: with others' facts, without what has a date, with nothing at all. On virtual time; what the record holds and
// does is invented.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "app/simulated_record_support.h"

namespace {

using app_test::FakeRecord;
using app_test::SubscribedDaemon;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z

class StrangeSearches : public testing::Test {
 protected:
  StrangeSearches() : folder(app_test::fresh_folder("strange")), record(kAt) { record.takes_subscriptions = false; }
  void start(const std::function<void(profile::Configuration&)>& more = {}) {
    daemon.reset();
    daemon = std::make_unique<SubscribedDaemon>(folder, record, kAt, [more](profile::Configuration& c) {
      c.record->look_seconds = 60;
      if (more) more(c);
    });
    daemon->pass(seconds{20});
  }
  void patient(const std::string& id, const std::string& link = "") {
    record.put(fmt::format(R"({{"resourceType":"Patient","id":"{0}","meta":{{"versionId":"1","security":[{{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}}]}},
      "identifier":[{{"system":"urn:x","value":"{0}1"}},{{"system":"urn:y","value":"{0}2"}}]{1}}})", id, link));
  }
  void procedure(const std::string& id, const std::string& of, const std::string& day = "2026-03-02") {
    record.put(fmt::format(R"({{"resourceType":"Procedure","id":"{}","meta":{{"versionId":"1","lastUpdated":"{}T11:05:00Z"}},"status":"completed","subject":{{"reference":"Patient/{}"}},"code":{{"text":"coronary angiography"}},
      "bodySite":[{{"coding":[{{"system":"http://snomed.info/sct","code":"69833005"}}]}}],"performedPeriod":{{"start":"{}T10:00:00Z","end":"{}T11:00:00Z"}}}})", id, day, of, day, day));
  }
  void value(const std::string& id, const std::string& of, const std::string& category = "laboratory", const std::string& status = "final", int version = 1) {
    record.put(fmt::format(R"({{"resourceType":"Observation","id":"{}","meta":{{"versionId":"{}","lastUpdated":"2026-03-02T12:00:00Z"}},"status":"{}","category":[{{"coding":[{{"code":"{}"}}]}}],"subject":{{"reference":"Patient/{}"}},
      "code":{{"coding":[{{"system":"http://loinc.org","code":"3184-9"}}]}},"effectiveDateTime":"2026-03-02T11:50:00Z","valueQuantity":{{"value":190,"unit":"s","system":"http://unitsofmeasure.org","code":"s"}}}})", id, version, status, category, of));
  }
  std::string folder;
  FakeRecord record;
  std::unique_ptr<SubscribedDaemon> daemon;
};

TEST_F(StrangeSearches, WhatIsSomebodyElsesIsLeftOutAndSaid) {
  for (const char* one : {"a", "b", "c"}) patient(one);
  procedure("p", "a");
  value("of-a", "a"), value("of-b", "b"), value("of-c", "c");
  record.overlooks_patient = {"Observation"};
  start();
  daemon->pass(minutes{3});
  EXPECT_TRUE(daemon->holds("Observation", "of-a"));
  EXPECT_FALSE(daemon->holds("Observation", "of-b"));
  EXPECT_FALSE(daemon->holds("Observation", "of-c"));
  EXPECT_TRUE(daemon->alarmed("with those of others"));
  record.overlooks_patient.clear();
  daemon->pass(minutes{20});
  EXPECT_FALSE(daemon->alarmed("with those of others"));
}

TEST_F(StrangeSearches, OneOtherIsLookedUpBeforeItIsCalledAStranger) {
  for (const char* one : {"a", "b"}) patient(one);
  procedure("p", "a");
  value("of-a", "a"), value("of-b", "b");
  record.overlooks_patient = {"Observation"};
  start();
  daemon->pass(minutes{5});
  EXPECT_TRUE(daemon->holds("Observation", "of-a"));
  EXPECT_FALSE(daemon->holds("Observation", "of-b"));
  EXPECT_TRUE(daemon->alarmed("with those of others"));
}

// FHIR R4, Patient.link: "replaced-by ... seealso"; a record that was told that two charts are one may show both under either name.
TEST_F(StrangeSearches, AMergedChartIsOnePersons) {
  patient("a");
  patient("b", R"(,"link":[{"other":{"reference":"Patient/a"},"type":"seealso"}])");
  procedure("p", "a");
  value("of-a", "a"), value("of-b", "b");
  record.overlooks_patient = {"Observation"};
  start();
  daemon->pass(minutes{5});
  EXPECT_TRUE(daemon->holds("Observation", "of-b"));
  EXPECT_FALSE(daemon->alarmed("with those of others"));
  EXPECT_FALSE(daemon->alarmed("somebody else"));
}

TEST_F(StrangeSearches, CategoriesOfTheSitesOwnAreAskedFor) {
  patient("a");
  procedure("p", "a");
  value("lab", "a"), value("row", "a", "flowsheet");
  record.wants_category = {"Observation"};
  start();
  daemon->pass(minutes{3});
  EXPECT_TRUE(daemon->holds("Observation", "lab"));
  EXPECT_FALSE(daemon->holds("Observation", "row"));
  start([](profile::Configuration& c) { c.record->categories = {"Observation/urn:site|flowsheet"}; });
  daemon->pass(minutes{3});
  EXPECT_TRUE(daemon->holds("Observation", "row"));
  EXPECT_EQ(record.count("GET Observation?patient=a&_count=100&date=ge2026-01-30&category=urn%3Asite%7Cflowsheet"), record.count("GET Observation?patient=a&_count=100&date=ge2026-01-30&category=urn")) << "encoded";
}

TEST_F(StrangeSearches, WhatIsInErrorIsNotCalledHiddenNightAfterNight) {
  patient("a");
  procedure("p", "a");
  value("wrong", "a");
  start();
  daemon->pass(minutes{3});
  ASSERT_TRUE(daemon->holds("Observation", "wrong"));
  value("wrong", "a", "laboratory", "entered-in-error", 2);
  record.never_found = {"Observation/wrong"};
  daemon->pass(std::chrono::hours{15});  // over three in the morning
  EXPECT_EQ(daemon->store->current("", "Observation", "wrong").value()->version_id, "2");
  EXPECT_FALSE(daemon->alarmed("do not show"));
}

class StrangeSweeps : public StrangeSearches {
 protected:
  void begin(int patients) {
    record.has_subject_index = true;
    std::string members;
    for (int n = 0; n < patients; ++n) {
      patient(fmt::format("r{}", n));
      members += fmt::format(R"({}{{"entity":{{"reference":"Patient/r{}"}}}})", n == 0 ? "" : ",", n);
    }
    record.put(R"({"resourceType":"Group","id":"g","type":"person","actual":true,"member":[)" + members + "]}");
    start([](profile::Configuration& c) { c.roster.lists = "Group/g"; });
    daemon->pass(minutes{4});
  }
};

TEST_F(StrangeSweeps, ASearchByDateThatNeverFindsAnythingIsFoundOutBeforeThereIsACase) {
  record.hides_dated = {"Procedure"};
  begin(2);
  procedure("p", "r1");
  daemon->pass(minutes{4});
  EXPECT_TRUE(daemon->holds("Procedure", "p"));
  // From now on without a date: the next one comes at once too.
  const auto dated = record.count("GET Procedure?patient=r0&_count=100&date=");
  procedure("q", "r0");
  daemon->pass(minutes{2});
  EXPECT_TRUE(daemon->holds("Procedure", "q"));
  EXPECT_EQ(record.count("GET Procedure?patient=r0&_count=100&date="), dated);
}

TEST_F(StrangeSweeps, ASearchByDateThatFindsIsNotAskedTwiceEachTime) {
  begin(2);
  procedure("p", "r1");
  daemon->pass(minutes{4});
  ASSERT_TRUE(daemon->holds("Procedure", "p"));
  const auto plain = record.count("GET Procedure?patient=r0"), dated = record.count("GET Procedure?patient=r0&_count=100&date=");
  daemon->pass(minutes{10});
  EXPECT_LE(record.count("GET Procedure?patient=r0") - plain, record.count("GET Procedure?patient=r0&_count=100&date=") - dated + 3);
}

TEST_F(StrangeSweeps, ARecordThatShowsNoProcedureOfAnybodyIsLookedInto) {
  begin(9);
  EXPECT_FALSE(daemon->alarmed("not one Procedure"));
  daemon.reset();
  folder = app_test::fresh_folder("strange10");
  begin(10);
  EXPECT_TRUE(daemon->alarmed("not one Procedure of 10 patients"));
  procedure("old", "r3", "2019-03-02");
  daemon->pass(minutes{4});
  EXPECT_FALSE(daemon->alarmed("not one Procedure"));
}

// FHIR R4, RESTful API, "search": an index need not be up to date with what was written just now.
TEST_F(StrangeSearches, AnIndexThatLagsBehindIsNotCalledDeaf) {
  record.clock = kAt;
  patient("a");
  procedure("p", "a");
  start();
  ASSERT_TRUE(daemon->holds("Procedure", "p"));
  record.put(R"({"resourceType":"Procedure","id":"q","meta":{"versionId":"1","lastUpdated":"2026-03-02T13:00:10Z"},"status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"coronary angiography"},
    "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],"performedPeriod":{"start":"2026-03-02T12:00:00Z","end":"2026-03-02T12:50:00Z"}})");
  record.never_found = {"Procedure/q"};
  daemon->pass(minutes{2});
  record.never_found.clear();
  daemon->pass(minutes{2});
  EXPECT_FALSE(daemon->alarmed("does not show Procedure"));
  EXPECT_TRUE(daemon->holds("Procedure", "q"));
}

TEST_F(StrangeSearches, AnAlarmEndsWithWhatItIsAbout) {
  patient("a");
  procedure("p", "a");
  start();
  record.answers["Condition?patient=a&_count=100"] = 403;
  daemon->pass(minutes{25});
  ASSERT_TRUE(daemon->alarmed("withholds"));
  record.put(R"({"resourceType":"Procedure","id":"p","meta":{"versionId":"2","lastUpdated":"2026-03-02T13:30:00Z"},"status":"entered-in-error","subject":{"reference":"Patient/a"},"code":{"text":"coronary angiography"}})");
  daemon->pass(minutes{25});
  EXPECT_FALSE(daemon->alarmed("withholds")) << "no case of theirs is open";
}

TEST_F(StrangeSearches, TheSearchForChangedProceduresIsProvedWithoutACase) {
  procedure("old", "x", "2019-03-02");
  record.hides_changed = {"Procedure"};
  start();
  EXPECT_TRUE(daemon->alarmed("does not show Procedure/old"));
  EXPECT_FALSE(daemon->holds("Procedure", "old")) << "it was looked at only";
}

}  // namespace
