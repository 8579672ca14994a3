// What a search concludes from what a record answers, page by page. The record is a table of answers; what it says is invented.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <map>

#include "app/record_search.h"

namespace {

using app::SearchResult;

const std::string kBase = "https://record.example/fhir";
const std::string kOutcome = R"({"resourceType":"OperationOutcome","issue":[{"severity":"error","code":"not-supported"}]})";

std::string page(const std::string& entries, const std::string& next = "") {
  return R"({"resourceType":"Bundle","type":"searchset","entry":[)" + entries + "]" + (next.empty() ? "" : R"(,"link":[{"relation":"next","url":")" + next + R"("}])") + "}";
}
std::string value(const std::string& id, const std::string& at) {
  return R"({"resource":{"resourceType":"Observation","id":")" + id + R"(","meta":{"versionId":"1","lastUpdated":")" + at + R"("}}})";
}

struct Record {
  std::map<std::string, transport::Response> answers;
  std::vector<std::string> asked;
  SearchResult search(std::vector<std::string> paths, bool rebase = false) {
    SearchResult result;
    app::search([this](const std::string& path, std::function<void(const transport::Response*)> then) {
      asked.push_back(path);
      const auto known = answers.find(path);
      then(known == answers.end() ? nullptr : &known->second);
    }, {std::move(paths), kBase, false, rebase}, [&](SearchResult one) { result = std::move(one); });
    return result;
  }
};

TEST(RecordSearch, PagesAreFollowedInEveryFormOfLink) {
  for (const std::string& next : std::vector<std::string>{"Observation?page=2", "?page=2", kBase + "/Observation?page=2", "/fhir/Observation?page=2"}) {
    Record record{{{"Observation?patient=a", {200, {}, page(value("1", "2026-03-02T10:00:00Z"), next)}}, {"Observation?page=2", {200, {}, page(value("2", "2026-03-02T11:00:00Z"))}}}, {}};
    const auto result = record.search({"Observation?patient=a"});
    EXPECT_TRUE(result.whole) << next << ": " << result.trouble;
    EXPECT_EQ(result.found.size(), 2u) << next;
    EXPECT_EQ(result.newest, "2026-03-02T11:00:00Z");
  }
  Record of_base{{{"Observation?patient=a", {200, {}, page("", kBase + "?_getpages=x")}}, {"/?_getpages=x", {200, {}, page(value("2", ""))}}}, {}};
  EXPECT_EQ(of_base.search({"Observation?patient=a"}).found.size(), 1u);
}

TEST(RecordSearch, APageThatIsRefusedMakesAPartAndRefusesNoSearch) {
  for (const int status : {400, 403, 404, 405, 406, 410, 501}) {
    Record record{{{"Observation?patient=a", {200, {}, page(value("1", ""), "_page?token=x")}}, {"_page?token=x", {status, {}, kOutcome}}}, {}};
    const auto result = record.search({"Observation?patient=a"});
    EXPECT_FALSE(result.whole);
    EXPECT_TRUE(result.refused.empty() && result.withheld.empty()) << status;
    EXPECT_EQ(result.found.size(), 1u) << "what came is kept";
    EXPECT_EQ(result.trouble, fmt::format("Observation: a further page was answered {}", status));
  }
}

TEST(RecordSearch, WhatIsARefusalAndWhatMayPass) {
  const auto answered = [](int status, const std::string& body) { return Record{{{"List?patient=a", {status, {}, body}}}, {}}.search({"List?patient=a"}); };
  for (const int status : {405, 406, 501}) EXPECT_EQ(answered(status, "").refused.size(), 1u) << status;
  EXPECT_EQ(answered(400, kOutcome).refused.size(), 1u);
  EXPECT_EQ(answered(403, kOutcome).withheld, std::vector<std::string>{"List?patient=a"}) << "perhaps this patient's chart alone";
  for (const auto& [status, body] : std::vector<std::pair<int, std::string>>{{400, "<html>"}, {404, "<html>"}, {404, kOutcome}, {500, ""}, {200, ""}, {200, "<html>"}, {204, ""}, {304, ""}, {200, kOutcome}}) {
    const auto result = answered(status, body);
    EXPECT_FALSE(result.whole) << status << body;
    EXPECT_TRUE(result.refused.empty() && result.withheld.empty()) << status;
  }
}

TEST(RecordSearch, AnErrorAmongTheEntriesMakesAPartAWarningDoesNot) {
  const auto with = [](const std::string& severity) {
    return Record{{{"List?patient=a", {200, {}, page(R"({"search":{"mode":"outcome"},"resource":{"resourceType":"OperationOutcome","issue":[{"severity":")" + severity + R"(","code":"x"}]}})")}}}, {}}
        .search({"List?patient=a"}).whole;
  };
  EXPECT_FALSE(with("error"));
  EXPECT_FALSE(with("fatal"));
  EXPECT_TRUE(with("warning"));
  EXPECT_TRUE(with("information"));
}

// Issue types: https://hl7.org/fhir/R4/valueset-issue-type.html
TEST(RecordSearch, WhatIsKeptBackIsNotedPerPatientAndTypeUntilAWholeSearchShowsOtherwise) {
  const std::string kept = R"({"search":{"mode":"outcome"},"resource":{"resourceType":"OperationOutcome","issue":[{"severity":"warning","code":"suppressed"}]}})";
  Record record{{{"List?patient=a&_count=100", {200, {}, page(kept)}},
                 {"List?patient=a&_lastUpdated=ge2026", {200, {}, page("")}},
                 {"Consent?patient=a", {200, {}, page("", "Consent?page=2")}},
                 {"Consent?page=2", {200, {}, page(kept)}},
                 {"Task?patient=a", {200, {}, page("")}},
                 {"Device?patient=a", {500, {}, ""}}}, {}};
  const auto noted = [&](const std::string& path) {
    std::string all;
    for (const auto& note : record.search({path}).notes) all += note.event.method + " ";
    return all;
  };
  EXPECT_EQ(noted("List?patient=a&_count=100"), "PUT ");
  EXPECT_EQ(noted("Consent?patient=a"), "PUT ") << "on a later page";
  EXPECT_EQ(noted("Task?patient=a"), "DELETE ");
  EXPECT_EQ(noted("List?patient=a&_lastUpdated=ge2026"), "") << "what did not change may still be kept back";
  EXPECT_EQ(noted("Device?patient=a"), "");
  EXPECT_EQ(record.search({"List?patient=a&_count=100"}).notes.at(0).event.resource_id, record.search({"List?patient=a&_count=100"}).notes.at(0).event.resource_id);
  EXPECT_TRUE(record.search({"List?patient=a&_count=100"}).whole) << "what is shown is all that we may see";
}

TEST(RecordSearch, CirclesEndAndTooManyPagesAreSaidToBeTooMany) {
  Record circle{{{"List?patient=a", {200, {}, page("", "List?patient=a")}}}, {}};
  EXPECT_FALSE(circle.search({"List?patient=a"}).cut);
  Record endless;
  for (int n = 0; n < 600; ++n) endless.answers[fmt::format("List?p={}", n)] = {200, {}, page("", fmt::format("List?p={}", n + 1))};
  const auto result = endless.search({"List?p=0"});
  EXPECT_TRUE(result.cut);
  EXPECT_FALSE(result.whole);
  EXPECT_LE(endless.asked.size(), 501u);
}

TEST(RecordSearch, AnotherHostIsNeverAsked) {
  for (const std::string& next : std::vector<std::string>{"https://elsewhere.example/fhir/Observation?page=2", "//elsewhere.example/fhir/Observation?page=2", "https://record.example.evil/fhir/Observation?page=2"}) {
    Record record{{{"Observation?patient=a", {200, {}, page("", next)}}, {"Observation?page=2", {200, {}, page(value("2", ""))}}}, {}};
    EXPECT_FALSE(record.search({"Observation?patient=a"}).whole) << next;
    EXPECT_EQ(record.asked.size(), 1u);
  }
  Record rebased{{{"Observation?patient=a", {200, {}, page("", "http://inner:8080/fhir/Observation?page=2")}}, {"Observation?page=2", {200, {}, page(value("2", ""))}}}, {}};
  EXPECT_EQ(rebased.search({"Observation?patient=a"}, true).found.size(), 1u);
  Record outside{{{"Observation?patient=a", {200, {}, page("", "http://inner:8080/other/Observation?page=2")}}}, {}};
  EXPECT_FALSE(outside.search({"Observation?patient=a"}, true).whole);
}

}  // namespace
