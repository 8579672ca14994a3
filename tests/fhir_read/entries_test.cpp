#include "fhir_read/intake.h"
#include "fhir_read/reading_support.h"
#include "fhir_read/searchset.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using fhir_read::entries_of;

std::string told(const fhir_read::Entries& entries) {
  std::string all;
  for (const auto& e : entries.events) all += e.method + " " + e.type + "/" + e.id + (e.version.empty() ? "" : " v" + e.version) + (e.body.is_null() ? " -" : "") + "\n";
  return all;
}

fhir_read::Entries split(std::string_view text) { return entries_of(reading_test::resource(text)); }

TEST(Entries, collection_resolves_references_by_full_url) {
  const auto out = split(R"({"resourceType":"Bundle","type":"collection","entry":[
    {"fullUrl":"urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0","resource":{"resourceType":"Patient","active":true}},
    {"fullUrl":"https://one.example/fhir/Encounter/e","resource":{"resourceType":"Encounter","id":"e","subject":{"reference":"urn:uuid:0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0"}}},
    {"fullUrl":"https://one.example/fhir/Observation/o","resource":{"resourceType":"Observation","id":"o","encounter":{"reference":"https://one.example/fhir/Encounter/e"},"subject":{"reference":"https://two.example/fhir/Patient/1"}}}]})");
  EXPECT_EQ(told(out), "PUT Patient/0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0\nPUT Encounter/e\nPUT Observation/o\n");
  EXPECT_EQ(out.events[1].body["subject"]["reference"].text(), "Patient/0c3151bd-1cbf-4d64-b04d-cd9187a4c6e0");
  EXPECT_EQ(out.events[2].body["encounter"]["reference"].text(), "Encounter/e");
  EXPECT_EQ(out.events[2].body["subject"]["reference"].text(), "https://two.example/fhir/Patient/1");
  EXPECT_EQ(out.events[1].base_url, "https://one.example/fhir");
  EXPECT_TRUE(out.issues.empty()) << reading_test::all_issues(out.issues);
}

TEST(Entries, transaction_answers_each_entry) {
  const auto out = split(R"({"resourceType":"Bundle","type":"transaction","entry":[
    {"resource":{"resourceType":"Patient","id":"a"},"request":{"method":"PUT","url":"Patient/a"}},
    {"resource":{"resourceType":"Observation","status":"final"},"request":{"method":"POST","url":"Observation"}},
    {"request":{"method":"DELETE","url":"Observation/old"}},
    {"request":{"method":"GET","url":"Patient/a"}},
    {"resource":{"resourceType":"Patient","id":"b"},"request":{"method":"PUT","url":"Patient/c"}},
    {"resource":{"no":"resource"},"request":{"method":"POST","url":"Observation"}}]})");
  EXPECT_EQ(told(out), "PUT Patient/a\nPOST Observation/\nDELETE Observation/old -\n");
  ASSERT_EQ(out.answers.size(), 6u);
  std::vector<bool> accepted;
  for (const auto& a : out.answers) accepted.push_back(a.accepted);
  EXPECT_THAT(accepted, testing::ElementsAre(true, true, true, false, false, false));
  EXPECT_EQ(out.answers[0].location, "Patient/a");
  EXPECT_EQ(out.answers[5].issues.at(0).at, "Bundle.entry[5].resource.resourceType");
}

TEST(Entries, history_and_searchset) {
  const auto history = split(R"({"resourceType":"Bundle","type":"history","entry":[
    {"fullUrl":"https://one.example/fhir/Procedure/p","request":{"method":"DELETE","url":"Procedure/p"},"response":{"status":"204","etag":"W/\"3\""}},
    {"fullUrl":"https://one.example/fhir/Procedure/p","resource":{"resourceType":"Procedure","id":"p","meta":{"versionId":"2"}},"request":{"method":"PUT","url":"Procedure/p"},"response":{"status":"200"}}]})");
  EXPECT_EQ(told(history), "PUT Procedure/p v2\nDELETE Procedure/p v3 -\n") << "newest first in the Bundle (FHIR R4, RESTful API, history), oldest first here";
  const auto again = split(R"({"resourceType":"Bundle","type":"history","entry":[
    {"resource":{"resourceType":"Procedure","id":"p","meta":{"versionId":"c"}},"request":{"method":"PUT","url":"Procedure/p"}},
    {"request":{"method":"DELETE","url":"Procedure/p"},"response":{"status":"204"}},
    {"resource":{"resourceType":"Patient","id":"a"},"request":{"method":"PUT","url":"Patient/a"}},
    {"resource":{"resourceType":"Procedure","id":"p","meta":{"versionId":"a"}},"request":{"method":"PUT","url":"Procedure/p"}}]})");
  EXPECT_EQ(told(again), "PUT Procedure/p va\nDELETE Procedure/p -\nPUT Patient/a\nPUT Procedure/p vc\n") << "without numbers the order is turned round, among those of one resource";
  const auto found = split(R"({"resourceType":"Bundle","type":"searchset","total":1,"entry":[{"resource":{"resourceType":"Patient","id":"a"},"search":{"mode":"match"}},
    {"resource":{"resourceType":"OperationOutcome","issue":[]},"search":{"mode":"outcome"}}]})");
  EXPECT_EQ(told(found), "PUT Patient/a\n");
  EXPECT_EQ(told(split(R"({"resourceType":"Bundle","type":"searchset"})")), "");
}

// ---- Searchsets that are not all of it. Issue types: https://hl7.org/fhir/R4/valueset-issue-type.html; links: https://hl7.org/fhir/R4/http.html#paging

std::string searchset(const std::string& self, const std::string& entries, const std::string& more = "") {
  return R"({"resourceType":"Bundle","type":"searchset",)" + more + R"("link":[{"relation":"self","url":")" + self + R"("}],"entry":[)" + entries + "]}";
}
std::string outcome(const std::string& severity, const std::string& code) {
  return R"({"search":{"mode":"outcome"},"resource":{"resourceType":"OperationOutcome","issue":[{"severity":")" + severity + R"(","code":")" + code + R"(","diagnostics":"three left out"}]}})";
}
const std::string kGiven = R"({"resource":{"resourceType":"MedicationAdministration","id":"m","subject":{"reference":"Patient/a"}}})";

bool says(const fhir_read::Entries& entries, std::string_view code) { return std::ranges::find(entries.issues, code, &fhir::Issue::code) != entries.issues.end(); }

TEST(Searchset, with_a_next_link_or_an_error_is_a_part_and_says_so) {
  EXPECT_TRUE(says(split(R"({"resourceType":"Bundle","type":"searchset","link":[{"relation":"next","url":"x?page=2"}],"entry":[)" + kGiven + "]}"), "partial"));
  for (const auto& [severity, code] : {std::pair{"error", "exception"}, std::pair{"fatal", "timeout"}, std::pair{"warning", "incomplete"}}) {
    const auto out = split(searchset("https://one.example/fhir/MedicationAdministration?patient=a", kGiven + "," + outcome(severity, code)));
    EXPECT_TRUE(says(out, "partial")) << code;
    EXPECT_EQ(told(out), "PUT MedicationAdministration/m\n") << "what is there is taken, and nothing is said to be whole";
  }
  const auto remark = split(searchset("https://one.example/fhir/MedicationAdministration?patient=a", kGiven + "," + outcome("information", "informational")));
  EXPECT_TRUE(says(remark, "outcome") && !says(remark, "partial")) << reading_test::all_issues(remark.issues);
}

TEST(Searchset, that_keeps_something_back_becomes_a_fact_until_a_whole_one_shows_otherwise) {
  const std::string search = "https://one.example/fhir/MedicationAdministration?patient=Patient/a&_count=50";
  for (const char* code : {"suppressed", "security", "forbidden"}) {
    const auto out = split(searchset(search, kGiven + "," + outcome("warning", code)));
    ASSERT_EQ(out.events.size(), 2u) << code;
    EXPECT_TRUE(says(out, "withheld"));
    EXPECT_EQ(fhir_read::subject_of(out.events[0].body).patient, "Patient/a");
    const auto again = split(searchset(search, kGiven));
    EXPECT_EQ(told(again), "DELETE OperationOutcome/" + out.events[0].id + " -\nPUT MedicationAdministration/m\n");
    const auto narrow = split(searchset(search + "&status=completed", kGiven));
    EXPECT_EQ(told(narrow), "PUT MedicationAdministration/m\n") << "proves nothing";
  }
  const auto labelled = split(searchset(search, kGiven, R"("meta":{"security":[{"system":"http://terminology.hl7.org/CodeSystem/v3-ObservationValue","code":"REDACTED"}]},)"));
  EXPECT_TRUE(says(labelled, "withheld"));
  EXPECT_EQ(labelled.events.size(), 2u);
}

TEST(Searchset, whose_patient_is_not_said_takes_it_from_its_entries_or_says_it_of_nobody) {
  const auto common = split(searchset("https://one.example/fhir/MedicationAdministration?date=2026", kGiven + "," + outcome("warning", "suppressed")));
  ASSERT_EQ(common.events.size(), 2u);
  EXPECT_EQ(fhir_read::subject_of(common.events[0].body).patient, "Patient/a");
  const std::string other = R"({"resource":{"resourceType":"MedicationAdministration","id":"n","subject":{"reference":"Patient/b"}}})";
  const auto two = split(searchset("https://one.example/fhir/MedicationAdministration?date=2026", kGiven + "," + other + "," + outcome("warning", "suppressed")));
  EXPECT_EQ(two.events.size(), 2u) << told(two);
  EXPECT_TRUE(says(two, "withheld")) << "said to the sender all the same";
}

TEST(Searchset, addresses_of_searches) {
  struct Row { const char* url; const char* type; const char* patient; bool narrowed; };
  for (const auto& row : {Row{"Observation?patient=a&_count=100", "Observation", "Patient/a", false}, Row{"https://one.example/fhir/Observation?subject:Patient=a", "Observation", "Patient/a", false},
                          Row{"/fhir/Observation?subject=https://one.example/fhir/Patient/a", "Observation", "Patient/a", false}, Row{"Observation?subject=Group/g", "Observation", "", false},
                          Row{"Observation?patient=a&patient=b", "Observation", "", false}, Row{"Observation?patient=a,b", "Observation", "", false}, Row{"Observation?patient=a&date=ge2026", "Observation", "Patient/a", true},
                          Row{"?_getpages=x", "", "", true}, Row{"", "", "", false}, Row{"Observation?", "Observation", "", false}, Row{"Observation?patient", "Observation", "", false}}) {
    const auto what = fhir_read::searched_for(row.url);
    EXPECT_EQ(what.type, row.type) << row.url;
    EXPECT_EQ(what.patient, row.patient) << row.url;
    EXPECT_EQ(what.narrowed, row.narrowed) << row.url;
  }
}

// Shapes: Subscriptions R5 Backport IG 1.1 (Parameters in R4, SubscriptionStatus in R4B) and FHIR R5 subscription-notification.
TEST(Entries, subscription_notifications_of_three_versions) {
  const auto r4 = split(R"({"resourceType":"Bundle","type":"history","entry":[
    {"resource":{"resourceType":"Parameters","parameter":[{"name":"subscription","valueReference":{"reference":"Subscription/1"}},{"name":"type","valueCode":"event-notification"},
      {"name":"notification-event","part":[{"name":"event-number","valueString":"2"},{"name":"focus","valueReference":{"reference":"https://one.example/fhir/Observation/o"}}]}]},"request":{"method":"GET","url":"Subscription/1/$status"},"response":{"status":"200"}}]})");
  ASSERT_TRUE(r4.notice);
  EXPECT_EQ(r4.notice->type, "event-notification");
  EXPECT_EQ(told(r4), "POST Observation/o -\n");
  const auto r4b = split(R"({"resourceType":"Bundle","type":"history","entry":[{"resource":{"resourceType":"SubscriptionStatus","type":"event-notification","notificationEvent":[{"eventNumber":"1","focus":{"reference":"Observation/o"}}]}},
    {"fullUrl":"https://one.example/fhir/Observation/o","resource":{"resourceType":"Observation","id":"o"},"request":{"method":"PUT","url":"Observation/o"}}]})");
  EXPECT_EQ(told(r4b), "PUT Observation/o\n");
  const auto r5 = split(R"({"resourceType":"Bundle","type":"subscription-notification","entry":[{"resource":{"resourceType":"SubscriptionStatus","type":"handshake"}}]})");
  ASSERT_TRUE(r5.notice);
  EXPECT_EQ(r5.notice->type, "handshake");
  EXPECT_TRUE(r5.events.empty());
}

TEST(Entries, nested_bundles_within_limits) {
  EXPECT_EQ(told(split(R"({"resourceType":"Bundle","type":"batch-response","entry":[{"resource":{"resourceType":"Bundle","type":"searchset","entry":[{"resource":{"resourceType":"Patient","id":"a"}}]},"response":{"status":"200"}}]})")), "PUT Patient/a\n");
  std::string deep = R"({"resourceType":"Patient","id":"a"})";
  for (int i = 0; i < 10; ++i) deep = R"({"resourceType":"Bundle","type":"collection","entry":[{"resource":)" + deep + "}]}";
  const auto out = split(deep);
  ASSERT_TRUE(out.refused);
  EXPECT_EQ(out.refused->code, "nested");
  EXPECT_TRUE(out.events.empty());
}

struct BadRow {
  const char* name;
  const char* text;
  const char* code;
};
void PrintTo(const BadRow& row, std::ostream* os) { *os << row.name; }
class RefusedBundle : public testing::TestWithParam<BadRow> {};
TEST_P(RefusedBundle, says_why) {
  const auto out = split(GetParam().text);
  ASSERT_TRUE(out.refused);
  EXPECT_EQ(out.refused->code, GetParam().code);
}
INSTANTIATE_TEST_SUITE_P(table, RefusedBundle,
                         testing::Values(BadRow{"no_bundle", R"({"resourceType":"Patient"})", "no-bundle"}, BadRow{"no_type", R"({"resourceType":"Bundle"})", "bundle-type"},
                                         BadRow{"unknown_type", R"({"resourceType":"Bundle","type":"heap"})", "bundle-type"},
                                         BadRow{"entry_no_list", R"({"resourceType":"Bundle","type":"collection","entry":{"resource":{}}})", "no-entries"}),
                         [](const auto& row) { return row.param.name; });

TEST(Subject, patient_and_references) {
  const auto s = fhir_read::subject_of(reading_test::resource(R"({"resourceType":"Observation","id":"o","meta":{"versionId":"2","lastUpdated":"2026-03-02T10:00:00Z"},
    "subject":{"reference":"https://one.example/fhir/Patient/a"},"encounter":{"reference":"Encounter/e/_history/2"},"specimen":{"reference":"#s"},"device":{"display":"x"}})"), "https://one.example/fhir/");
  EXPECT_EQ(s.patient, "Patient/a");
  EXPECT_THAT(s.refers_to, testing::ElementsAre("Encounter/e"));
  EXPECT_EQ(s.version, "2");
  EXPECT_EQ(fhir_read::subject_of(reading_test::resource(R"({"resourceType":"Patient","id":"a"})")).patient, "Patient/a");
  EXPECT_EQ(fhir_read::subject_of(reading_test::resource(R"({"resourceType":"Task","id":"t","for":{"reference":"Patient/a"}})")).patient, "Patient/a");
  EXPECT_EQ(fhir_read::subject_of(reading_test::resource(R"({"resourceType":"Observation","id":"o","subject":{"reference":"Group/herd"}})")).patient, "");
}

TEST(Subject, instants_are_compared_with_fractions) {
  EXPECT_EQ(fhir_read::compare_instants("2026-03-02T10:00:00.1Z", "2026-03-02T10:00:00.15Z"), -1);
  EXPECT_EQ(fhir_read::compare_instants("2026-03-02T10:00:00Z", "2026-03-02T11:00:00.000+01:00"), 0);
  EXPECT_EQ(fhir_read::compare_instants("2026-03-02T10:00:01Z", "2026-03-02T10:00:00.9Z"), 1);
  EXPECT_EQ(fhir_read::compare_instants("2026-03-02", "2026-03-02T10:00:00Z"), std::nullopt);
}

TEST(Subject, lines_of_ndjson) {
  EXPECT_THAT(fhir_read::ndjson_lines("{}\n\n {\"a\":1}\r\n"), testing::ElementsAre("{}", " {\"a\":1}\r"));
}

}  // namespace
