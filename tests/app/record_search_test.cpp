// What a search concludes from what a record answers, page by page. The record is a table of answers; what it says is invented.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>

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

TEST(RecordSearch, WhatIsTooLargeIsAskedForInSmallerPagesFromItsBeginning) {
  Record record{{{"Observation?patient=a&_count=100", {app::kTooLarge, {}, {}}},
                 {"Observation?patient=a&_count=25", {200, {}, page(value("1", ""), "Observation?page=2")}},
                 {"Observation?page=2", {app::kTooLarge, {}, {}}},
                 {"Observation?patient=a&_count=6", {200, {}, page(value("1", "") + "," + value("2", ""))}},
                 {"List?patient=a", {app::kTooLarge, {}, {}}},
                 {"List?patient=a&_count=25", {200, {}, page("")}}}, {}};
  const auto result = record.search({"Observation?patient=a&_count=100", "List?patient=a"});
  EXPECT_TRUE(result.whole) << result.trouble;
  EXPECT_EQ(result.found.size(), 3u) << "one of them twice";
  EXPECT_EQ(record.asked.size(), 6u);
}

TEST(RecordSearch, WhatIsTooLargeAloneIsNoAnswer) {
  Record record{{{"Binary/1", {app::kTooLarge, {}, {}}}, {"List?_count=1&patient=a", {app::kTooLarge, {}, {}}}}, {}};
  for (const std::string path : {"Binary/1", "List?_count=1&patient=a"}) {
    const auto result = record.search({path});
    EXPECT_FALSE(result.whole);
    EXPECT_NE(result.trouble.find("one answer is larger than is taken"), std::string::npos) << result.trouble;
  }
}

TEST(RecordSearch, APageThatComesAgainUnderEverNewAddressesIsNotFollowedForLong) {
  std::size_t asked = 0;
  SearchResult result;
  transport::Response answer;
  app::search([&](const std::string&, std::function<void(const transport::Response*)> then) {
    answer = {200, {}, page(value("1", "2026-03-02T10:00:00Z"), fmt::format("Observation?page={}", ++asked))};
    then(&answer);
  }, {{"Observation?patient=a"}, kBase}, [&](SearchResult one) { result = std::move(one); });
  EXPECT_FALSE(result.whole);
  EXPECT_FALSE(result.cut) << "nothing says that what comes later is newer";
  EXPECT_EQ(result.trouble, "Observation: 20 pages one after the other bring nothing new");
  EXPECT_EQ(asked, 21u);
}

TEST(RecordSearch, WhatIsARefusalAndWhatMayPass) {
  const auto answered = [](int status, const std::string& body) { return Record{{{"List?patient=a", {status, {}, body}}}, {}}.search({"List?patient=a"}); };
  for (const int status : {405, 406, 501}) EXPECT_EQ(answered(status, "").refused.size(), 1u) << status;
  EXPECT_EQ(answered(400, kOutcome).refused.size(), 1u);
  EXPECT_EQ(answered(404, kOutcome).refused.size(), 1u) << "it does not know the type";
  EXPECT_EQ(answered(401, "").withheld.size(), 1u) << "where others are answered: not ours to see";
  EXPECT_EQ(answered(403, kOutcome).withheld, std::vector<std::string>{"List?patient=a"}) << "perhaps this patient's chart alone";
  for (const auto& [status, body] : std::vector<std::pair<int, std::string>>{{400, "<html>"}, {404, "<html>"}, {500, ""}, {200, ""}, {200, "<html>"}, {204, ""}, {304, ""}, {200, kOutcome}}) {
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
                 {"Device?patient=a", {500, {}, ""}},
                 {"Condition?patient=a", {403, {}, kOutcome}},
                 {"Condition?code=1", {403, {}, kOutcome}}}, {}};
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
  EXPECT_EQ(noted("Condition?patient=a"), "PUT ") << "a chart that is closed to us keeps all of that type back";
  EXPECT_EQ(noted("Condition?code=1"), "") << "about nobody";
  EXPECT_EQ(record.search({"List?patient=a&_count=100"}).notes.at(0).event.resource_id, record.search({"List?patient=a&_count=100"}).notes.at(0).event.resource_id);
  EXPECT_TRUE(record.search({"List?patient=a&_count=100"}).whole) << "what is shown is all that we may see";
}

TEST(RecordSearch, CirclesEndAndTooManyPagesAreSaidToBeTooMany) {
  Record circle{{{"List?patient=a", {200, {}, page("", "List?patient=a")}}}, {}};
  EXPECT_FALSE(circle.search({"List?patient=a"}).cut);
  Record endless;
  for (int n = 0; n < 600; ++n) endless.answers[fmt::format("List?p={}", n)] = {200, {}, page(value(std::to_string(n), ""), fmt::format("List?p={}", n + 1))};
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

TEST(RecordSearch, WhatIsTooMuchForTheMemoryIsHandedOverPageByPage) {
  for (const std::size_t parallel : {std::size_t{1}, std::size_t{3}}) {
    Record record;
    for (const std::string& type : std::vector<std::string>{"Observation", "Condition", "List"})
      for (int n = 0; n < 10; ++n)
        record.answers[fmt::format("{}?p={}", type, n)] = {200, {}, page(value(fmt::format("{}{}", type, n), fmt::format("2026-03-02T10:00:{:02}Z", n)), n < 9 ? fmt::format("{}?p={}", type, n + 1) : "")};
    app::RecordSearch what{{"Observation?p=0", "Condition?p=0", "List?p=0"}, kBase};
    what.parallel = parallel;
    what.hold_bytes = 300;
    std::size_t handed = 0, at_once = 0;
    what.overflow = [&](std::vector<app::Found> found, std::function<void(bool)> go_on) {
      for (const auto& one : found) EXPECT_FALSE(one.event.body.empty());
      handed += found.size();
      at_once = std::max(at_once, found.size());
      go_on(true);
    };
    std::optional<SearchResult> result;
    app::search([&](const std::string& path, std::function<void(const transport::Response*)> then) { then(&record.answers.at(path)); }, what, [&](SearchResult one) { result = std::move(one); });
    ASSERT_TRUE(result);
    EXPECT_TRUE(result->whole) << result->trouble;
    EXPECT_EQ(result->found.size(), 30u);
    EXPECT_EQ(result->taken, handed);
    EXPECT_GT(handed, 15u);
    EXPECT_LE(at_once, 4u);
    EXPECT_EQ(result->newest, "2026-03-02T10:00:09Z");
    for (std::size_t n = 0; n < result->found.size(); ++n) EXPECT_EQ(result->found[n].event.body.empty(), n < result->taken) << n;
  }
}

TEST(RecordSearch, WhatCouldNotBeKeptMakesAPart) {
  Record record{{{"Observation?p=0", {200, {}, page(value("1", ""), "Observation?p=1")}}, {"Observation?p=1", {200, {}, page(value("2", ""))}}}, {}};
  app::RecordSearch what{{"Observation?p=0"}, kBase};
  what.hold_bytes = 1;
  what.overflow = [](std::vector<app::Found>, std::function<void(bool)> go_on) { go_on(false); };
  SearchResult result;
  app::search([&](const std::string& path, std::function<void(const transport::Response*)> then) { then(&record.answers.at(path)); }, what, [&](SearchResult one) { result = std::move(one); });
  EXPECT_FALSE(result.whole);
}

TEST(RecordSearch, SeveralAtOnceAreNeverMoreThanAllowedAndTheEarliestClockCounts) {
  std::vector<std::pair<std::string, std::function<void(const transport::Response*)>>> open;
  app::RecordSearch what{{}, kBase};
  for (int n = 0; n < 9; ++n) what.paths.push_back(fmt::format("Medication/m{}", n));
  what.parallel = 4;
  std::optional<SearchResult> result;
  app::search([&](const std::string& path, std::function<void(const transport::Response*)> then) { open.emplace_back(path, std::move(then)); }, what, [&](SearchResult one) { result = std::move(one); });
  EXPECT_EQ(open.size(), 4u);
  int second = 50;
  while (!open.empty()) {
    EXPECT_LE(open.size(), 4u);
    const auto [path, then] = std::move(open.back());  // the last asked is answered first
    open.pop_back();
    transport::Response answer{200, {}, R"({"resourceType":"Medication","id":")" + path.substr(11) + R"("})"};
    answer.headers.add("Date", fmt::format("Mon, 02 Mar 2026 10:00:{:02} GMT", second--));
    then(&answer);
  }
  ASSERT_TRUE(result);
  EXPECT_TRUE(result->whole);
  EXPECT_EQ(result->found.size(), 9u);
  EXPECT_EQ(result->date.substr(0, 21), "Mon, 02 Mar 2026 10:0");
  EXPECT_LE(result->date, "Mon, 02 Mar 2026 10:00:47 GMT");
}

// FHIR R4, RESTful API, "history": newest versions first; a deletion is an entry with the request alone.
TEST(RecordSearch, AHistoryTellsWhatIsDeletedAndNotMadeAgain) {
  const std::string put = R"({"resource":{"resourceType":"Procedure","id":"back"},"request":{"method":"PUT","url":"Procedure/back"}},)";
  const std::string gone = R"({"request":{"method":"DELETE","url":"Procedure/gone"}},{"request":{"method":"DELETE","url":"https://record.example/fhir/Procedure/whole/_history/3"}},)";
  const std::string older = R"({"request":{"method":"DELETE","url":"Procedure/back"}},{"resource":{"resourceType":"Procedure","id":"gone"},"request":{"method":"PUT","url":"Procedure/gone"}})";
  Record record{{{"Procedure/_history?_since=x", {200, {}, page(put + gone + older)}}}, {}};
  const auto result = record.search({"Procedure/_history?_since=x"});
  ASSERT_EQ(result.found.size(), 2u);
  EXPECT_EQ(result.found[0].event.method, "DELETE");
  EXPECT_EQ(result.found[0].event.resource_id, "gone");
  EXPECT_EQ(result.found[1].event.resource_id, "whole");
  for (const int status : {400, 404, 405, 501}) {
    Record none{{{"Procedure/_history?_since=x", {status, {}, kOutcome}}}, {}};
    EXPECT_EQ(none.search({"Procedure/_history?_since=x"}).refused.size(), 1u) << status;
  }
}

// RFC 3986, 5.2: an address with a slash before its question mark is that of the base, whatever was searched for.
TEST(RecordSearch, ANextPageOfTheBaseIsNoPageOfTheType) {
  for (const std::string& next : std::vector<std::string>{kBase + "/?_page=x", "/fhir/?_page=x"}) {
    Record record{{{"Observation?patient=a", {200, {}, page("", next)}}, {"?_page=x", {200, {}, page(value("2", ""))}}}, {}};
    EXPECT_EQ(record.search({"Observation?patient=a"}).found.size(), 1u) << next;
  }
}

// FHIR R4, Bundle.total: the number of matches across all pages; what goes along is no match.
TEST(RecordSearch, FewerMatchesThanTheRecordCountsAreAPart) {
  const auto with_total = [](std::string bundle, int total) { return bundle.insert(1, fmt::format(R"("total":{},)", total)); };
  const std::string included = R"({"resource":{"resourceType":"Medication","id":"m"},"search":{"mode":"include"}})";
  const auto whole = [&](const std::string& first) { return Record{{{"Observation?patient=a", {200, {}, first}}, {"Observation?page=2", {200, {}, with_total(page(value("2", "")), 2)}}}, {}}.search({"Observation?patient=a"}); };
  EXPECT_FALSE(whole(with_total(page(""), 3)).whole);
  EXPECT_EQ(whole(with_total(page(""), 3)).trouble, "Observation: says that there are 3 and shows 0");
  EXPECT_EQ(whole(with_total(page(""), 3)).unanswered, std::set<std::string>{"Observation"});
  EXPECT_FALSE(whole(with_total(page(value("1", "") + "," + included), 2)).whole);
  EXPECT_TRUE(whole(with_total(page(value("1", ""), "Observation?page=2"), 2)).whole);
  EXPECT_TRUE(whole(with_total(page(""), 0)).whole);
  EXPECT_TRUE(whole(with_total(page(value("1", "") + "," + value("2", "")), 1)).whole) << "more than it counts is no less";
}

TEST(RecordSearch, WhatTheFirstPageCountsTheLastMustHaveShown) {
  const auto asked = [](const std::string& second) {
    return Record{{{"Observation?patient=a", {200, {}, page(value("1", ""), "Observation?page=2").insert(1, R"("total":2,)")}}, {"Observation?page=2", {200, {}, page(second)}}}, {}}.search({"Observation?patient=a"});
  };
  EXPECT_FALSE(asked("").whole);
  EXPECT_TRUE(asked(value("2", "")).whole);
}

TEST(RecordSearch, AHistoryInAnotherOrderSaysTheSame) {
  const auto entry = [](const std::string& method, int version, const std::string& at) {
    return fmt::format(R"({{"request":{{"method":"{}","url":"Procedure/p"}},"response":{{"status":"200","etag":"W/\"{}\"","lastModified":"{}"}}}})", method, version, at);
  };
  const auto told = [](const std::string& entries) { return Record{{{"Procedure/_history?_since=x", {200, {}, page(entries)}}}, {}}.search({"Procedure/_history?_since=x"}); };
  const auto gone = told(entry("PUT", 1, "2026-03-02T10:00:00Z") + "," + entry("DELETE", 2, "2026-03-02T11:00:00Z"));
  ASSERT_EQ(gone.found.size(), 1u);
  EXPECT_EQ(gone.found.front().event.version_id, "2");
  const auto anew = told(entry("DELETE", 2, "2026-03-02T11:00:00Z") + "," + entry("PUT", 1, "2026-03-02T12:00:00Z"));
  EXPECT_TRUE(anew.found.empty());
  ASSERT_EQ(anew.standing.size(), 1u);
  EXPECT_EQ(anew.standing.front().event.resource_id, "p");
}

}  // namespace
