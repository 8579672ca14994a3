// Every form in which a Subscription of a record tells something, at the hook: what it is answered, what becomes an event, what is kept aside.
#include <gtest/gtest.h>

#include "app/simulated_support.h"

namespace {

using app_test::Daemon;
using app_test::MemoryChart;

constexpr app::Millis kAt = 1'772'456'400'000;  // 2026-03-02T13:00:00Z
const char* kValue = R"({"resourceType":"Observation","id":"o","status":"final","code":{"text":"invented"},"subject":{"reference":"Patient/a"}})";

std::string history(const std::string& parameters, const std::string& more = "") {
  return R"({"resourceType":"Bundle","type":"history","entry":[{"resource":{"resourceType":"Parameters","parameter":[{"name":"subscription","valueReference":{"reference":"Subscription/s"}},)" +
         parameters + R"(]},"request":{"method":"GET","url":"Subscription/s/$status"}})" + more + "]}";
}

struct Row {
  const char* name;
  const char* method;
  std::string target, body, media;
  int status;
  int events;
  int aside;
};
void PrintTo(const Row& row, std::ostream* os) { *os << row.name; }

class Forms : public testing::TestWithParam<Row> {};

TEST_P(Forms, is_answered_and_journalled) {
  const Row& row = GetParam();
  MemoryChart chart;
  Daemon daemon(app_test::fresh_folder("forms"), chart, "", kAt);
  transport::Headers headers;
  if (!row.media.empty()) headers.add("Content-Type", row.media);
  EXPECT_EQ(daemon.send(row.method, "/fhir/hook/ward/acts" + row.target, row.body, headers).status, row.status);
  const auto status = daemon.engine->status();
  EXPECT_EQ(status.events.received, row.events);
  EXPECT_EQ(status.quarantine_kept, row.aside);
}

const std::string kJson = "application/fhir+json";
const std::string kTransaction = std::string(R"({"resourceType":"Bundle","type":"transaction","entry":[{"resource":)") + kValue + R"(,"request":{"method":"PUT","url":"Observation/o"}}]})";
const std::string kHandshake = history(R"({"name":"type","valueCode":"handshake"})");
const std::string kEmpty = history(R"({"name":"type","valueCode":"event-notification"},{"name":"events-since-subscription-start","valueString":"1"})");
const std::string kFull = history(R"({"name":"type","valueCode":"event-notification"})", std::string(R"(,{"fullUrl":"https://r.example/fhir/Observation/o","resource":)") + kValue + R"(,"request":{"method":"PUT","url":"Observation/o"}})");
const std::string kPage = std::string(R"({"resourceType":"Bundle","type":"searchset","link":[{"relation":"next","url":"https://r.example/fhir?page=2"}],"entry":[{"resource":)") + kValue + "}]}";
const std::string kKeptBack = std::string(R"({"resourceType":"Bundle","type":"searchset","entry":[{"resource":)") + kValue + R"(},{"resource":{"resourceType":"OperationOutcome","issue":[{"severity":"warning","code":"suppressed"}]},"search":{"mode":"outcome"}}]})";
const std::string kOldProcedure = R"({"resourceType":"Procedure","id":"p","status":"completed","subject":{"reference":"Patient/a"},"code":{"coding":[{"system":"http://snomed.info/sct","code":"80146002"}]},"performedDateTime":"2026-03-02"})";
const std::string kTwoVersions = R"({"resourceType":"Bundle","type":"collection","entry":[{"resource":)" + kOldProcedure +
                                 R"(},{"resource":{"resourceType":"Procedure","id":"q","status":"completed","subject":{"reference":"Patient/a"},"occurrenceDateTime":"2026-03-02"}}]})";
const std::string kTooFar = history(R"({"name":"type","valueCode":"event-notification"},{"name":"notification-event","part":[{"name":"event-number","valueString":"18446744073709551616"}]})");

INSTANTIATE_TEST_SUITE_P(
    rows, Forms,
    testing::Values(Row{"put_below_the_endpoint", "PUT", "/Observation/o", kValue, kJson, 200, 1, 0}, Row{"post_of_the_resource", "POST", "", kValue, kJson, 200, 1, 0},
                    Row{"empty_post", "POST", "", "", "", 200, 1, 0}, Row{"delete", "DELETE", "/Observation/o", "", "", 204, 1, 0},
                    Row{"transaction", "POST", "", kTransaction, kJson, 200, 1, 0}, Row{"handshake", "POST", "", kHandshake, kJson, 200, 0, 0},
                    Row{"empty_payload_asks_for_a_look", "POST", "", kEmpty, kJson, 200, 1, 0}, Row{"full_resource", "POST", "", kFull, kJson + "; fhirVersion=4.0", 200, 1, 0},
                    Row{"a_count_beyond_64_bits_is_kept_aside_and_looked_for", "POST", "", kTooFar, kJson, 200, 1, 1},
                    Row{"a_bundle_of_no_type_is_kept_aside_and_looked_for", "POST", "", R"({"resourceType":"Bundle","type":"heap"})", kJson, 200, 1, 1},
                    Row{"a_page_of_a_search_is_taken_kept_aside_and_the_whole_is_looked_for", "POST", "", kPage, kJson, 200, 2, 1},
                    Row{"a_search_that_keeps_something_back_is_taken_and_that_is_kept", "POST", "", kKeptBack, kJson, 200, 2, 0},
                    Row{"elements_of_another_version_than_it_is_sent_as_are_taken_and_kept_aside", "PUT", "/Procedure/p", kOldProcedure, kJson + "; fhirVersion=5.0", 200, 1, 1},
                    Row{"elements_of_the_version_that_it_is_sent_as", "PUT", "/Procedure/p", kOldProcedure, kJson + "; fhirVersion=4.0", 200, 1, 0},
                    Row{"a_bundle_of_two_versions_is_taken_and_kept_aside", "POST", "", kTwoVersions, kJson, 200, 2, 1},
                    Row{"another_fhir_version_is_kept_aside_and_looked_for", "POST", "", kFull, kJson + "; fhirVersion=3.0", 200, 1, 1},
                    Row{"xml_is_kept_aside_and_looked_for", "POST", "", "<Bundle/>", "application/fhir+xml", 200, 1, 1},
                    Row{"parameters_alone", "POST", "", R"({"resourceType":"Parameters","parameter":[{"name":"subscription","valueReference":{"reference":"Subscription/s"}}]})", kJson, 200, 1, 1},
                    Row{"a_status_alone", "POST", "", R"({"resourceType":"SubscriptionStatus","status":"active","type":"event-notification","subscription":{"reference":"Subscription/s"}})", kJson, 200, 1, 1},
                    Row{"parameters_without_a_type", "POST", "", history(R"({"name":"notification-event","part":[{"name":"focus","valueReference":{"reference":"Observation/o"}}]})"), kJson, 200, 1, 1},
                    Row{"a_bundle_with_nothing_in_it", "POST", "", R"({"resourceType":"Bundle","type":"history"})", kJson, 200, 1, 1},
                    Row{"an_entry_that_cannot_be_taken_is_looked_for", "POST", "", R"({"resourceType":"Bundle","type":"transaction","entry":[{"resource":{"status":"final"},"request":{"method":"PUT","url":"Observation/o"}}]})", kJson, 200, 1, 1},
                    Row{"an_id_that_is_none", "PUT", "/Observation/a_b", kValue, kJson, 200, 1, 1}, Row{"a_version_below_it", "PUT", "/Observation/o/_history/3", kValue, kJson, 200, 1, 1},
                    Row{"an_operation_below_it", "POST", "/$process-message", kValue, kJson, 200, 1, 1}, Row{"a_patch", "PATCH", "/Observation/o", kValue, kJson, 200, 1, 1},
                    Row{"a_look_from_a_browser", "GET", "/Observation/o", "", "", 405, 0, 0},
                    Row{"no_json", "POST", "", "{", kJson, 200, 1, 1}, Row{"its_metadata", "GET", "/metadata", "", "", 200, 0, 0}),
    [](const auto& row) { return row.param.name; });

TEST(Forms, packed_bodies_are_kept_aside_and_looked_for_at_a_hook_and_refused_elsewhere) {
  MemoryChart chart;
  Daemon daemon(app_test::fresh_folder("packed"), chart, "", kAt);
  const transport::Headers headers{{"Content-Type", kJson}, {"Content-Encoding", "gzip"}};
  EXPECT_EQ(daemon.send("PUT", "/fhir/hook/ward/acts/Observation/o", "\x1f\x8b\b", headers).status, 200);
  EXPECT_EQ(daemon.engine->status().events.received, 1);
  EXPECT_EQ(daemon.engine->status().quarantine_kept, 1);
  const auto refused = daemon.send("PUT", "/fhir/Observation/o", "\x1f\x8b\b", headers);
  EXPECT_EQ(refused.status, 415);
  EXPECT_EQ(refused.headers.get("Accept-Encoding"), "identity");  // RFC 9110, 15.5.16
  EXPECT_EQ(daemon.engine->status().events.received, 1);
}

}  // namespace
