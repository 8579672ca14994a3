// A record that says that it keeps something of a patient back: held against the plan while it does, and no longer once a whole search shows otherwise.
#include <gtest/gtest.h>

#include "app/simulated_record_support.h"
#include "fhir_read/searchset.h"

namespace {

using app_test::FakeRecord;
using app_test::SubscribedDaemon;
using std::chrono::seconds;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z

TEST(KeptBack, IsAFactWhileTheRecordSaysSo) {
  const auto folder = app_test::fresh_folder("kept-back");
  FakeRecord record(kAt);
  record.put(R"({"resourceType":"Patient","id":"a","meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ActReason","code":"HTEST"}]},"identifier":[{"system":"urn:x","value":"1"},{"system":"urn:y","value":"2"}]})");
  record.put(R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"code":{"text":"coronary angiography"},
    "bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"69833005"}]}],"performedPeriod":{"start":"2026-03-02T10:00:00Z","end":"2026-03-02T11:00:00Z"}})");
  const auto id = fhir_read::kept_back({"MedicationStatement", "Patient/a", false}, false).id;
  const auto after_a_start = [&](std::set<std::string> keeps_back) {
    record.keeps_back = std::move(keeps_back);
    SubscribedDaemon daemon(folder, record, kAt);
    daemon.pass(seconds{150});
    EXPECT_EQ(daemon.fatal, "");
    EXPECT_TRUE(daemon.holds("Procedure", "p"));
    const auto fact = daemon.store->current("", "OperationOutcome", id);
    return fact.has_value() && *fact && !(*fact)->deleted;
  };
  EXPECT_FALSE(after_a_start({}));
  EXPECT_TRUE(after_a_start({"MedicationStatement"}));
  EXPECT_TRUE(after_a_start({"MedicationStatement"})) << "said again";
  EXPECT_FALSE(after_a_start({})) << "everything was asked for and nothing is kept back";
  EXPECT_TRUE(after_a_start({"MedicationStatement", "Observation"})) << "and again";
}

}  // namespace
