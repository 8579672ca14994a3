// A Bundle of which most does not matter is taken apart as if all of it had been read: over Bundles made of the official examples (hl7.fhir.r4.examples 4.0.1 and
// hl7.fhir.r5.examples 5.0.0, CC0), as they are, with the type last, damaged, and nested. The whole tree is the reference.
#include "fhir_read/intake.h"
#include "fhir_read/official_texts.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <ctime>
#include <random>

namespace {

using reading_test::official;

std::string event_text(const fhir_read::ResourceEvent& event) {
  const bool counts = fhir_read::relevant(event.type);
  return event.method + " " + event.type + "/" + event.id + " " + event.version + " at " + event.base_url + (counts ? " " + json::write(event.body) : event.body.is_null() ? " nothing" : " something");
}

/// Everything that is made of a Bundle, of what does not matter only that it is there.
std::string all_of(const boost::system::result<json::Value, json::Fault>& parsed) {
  if (parsed.has_error()) return parsed.error().text + " at " + std::to_string(parsed.error().offset);
  const auto entries = fhir_read::entries_of(*parsed);
  std::string all;
  const auto tell = [&all](const fhir::Issue& issue) { all += std::string(fhir::word(issue.severity)) + " " + issue.code + " " + issue.at + " " + issue.text + "\n"; };
  if (entries.refused) tell(*entries.refused);
  for (const auto& event : entries.events) all += event_text(event) + "\n";
  for (const auto& answer : entries.answers) {
    all += std::string(answer.accepted ? "yes " : "no ") + answer.location + "\n";
    for (const auto& issue : answer.issues) tell(issue);
  }
  for (const auto& issue : entries.issues) tell(issue);
  if (entries.notice) all += "notice " + entries.notice->type + " " + entries.notice->subscription_id + " " + std::to_string(entries.notice->events.size()) + "\n";
  return all;
}

class FirehoseBundle : public testing::Test {
 protected:
  void SetUp() override {
    if (texts_.empty()) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
  }

  std::string bundle() {
    static const char* types[] = {"batch", "transaction", "collection", "history", "searchset", "message", "document", "searchset", "heap"};
    std::string text = std::string(R"({"resourceType":"Bundle","type":")") + types[pick(std::size(types))] + R"(","link":[{"relation":"self","url":"https://r.example/fhir/Basic?patient=example"}],"entry":[)";
    for (auto n = pick(6); n > 0; --n) text += entry() + (n > 1 ? "," : "");
    return text + "]}";
  }

  std::string entry() {
    std::string resource = pick(12) == 0 ? bundle() : texts_[pick(texts_.size())];
    if (const auto open = resource.find('{'); pick(5) == 0 && open != std::string::npos) resource.insert(open + 1, R"("text":{"div":"<div/>"},"resourceType":)" + std::string(pick(2) == 0 ? "\"Basic\"," : "7,"));
    static const char* requests[] = {"", R"(,"request":{"method":"PUT","url":"Basic/x"})", R"(,"request":{"method":"POST","url":"Basic"})", R"(,"request":{"method":"DELETE","url":"Observation/o"})"};
    return R"({"fullUrl":"https://r.example/fhir/Basic/)" + std::to_string(pick(9)) + R"(","resource":)" + resource + requests[pick(10) < 7 ? 0 : pick(4)] + "}";
  }

  std::size_t pick(std::size_t below) { return random_() % below; }

  std::vector<std::string> texts_ = official(4'000);
  std::minstd_rand random_{20260303};
};

TEST_F(FirehoseBundle, comes_apart_as_if_all_of_it_had_been_read) {
  std::size_t shorter = 0, refused = 0;
  for (int round = 0; round < 6000; ++round) {
    auto text = bundle();
    if (pick(4) == 0) text[pick(text.size())] = static_cast<char>(pick(256));
    const auto whole = json::parse(text);
    const auto spared = json::parse_sparing(text, fhir_read::matters_in_bundle);
    ASSERT_EQ(all_of(spared), all_of(whole)) << text.substr(0, 2000);
    if (whole.has_error()) ++refused;
    else shorter += json::write(*spared).size() < json::write(*whole).size() ? 1 : 0;
  }
  EXPECT_GT(shorter, 1000u);
  EXPECT_GT(refused, 100u);
}

TEST_F(FirehoseBundle, limits_are_met_at_the_same_place) {
  for (const char* text : {R"({"entry":[{"resource":{"resourceType":"Basic","a":[[[1]]],"b":{"c":{"d":1}}}}]})", R"({"entry":[{"resource":{"a":{"b":[1,2,3]},"resourceType":"Basic","id":"x","meta":{"versionId":"1"}}}]})"})
    for (int limit = 1; limit < 20; ++limit)
      for (const json::Limits& limits : {json::Limits{.depth = limit}, json::Limits{.values = static_cast<std::size_t>(limit)}}) {
        const auto whole = json::parse(text, limits);
        const auto spared = json::parse_sparing(text, fhir_read::matters_in_bundle, limits);
        ASSERT_EQ(spared.has_error(), whole.has_error()) << limit;
        if (whole.has_error()) EXPECT_EQ(spared.error().offset, whole.error().offset);
        else EXPECT_EQ(json::write((*spared)["entry"].at(0)["resource"]).find("\"b\""), std::string::npos);
      }
}

TEST_F(FirehoseBundle, costs_a_part_of_the_tree) {
  std::string text = R"({"resourceType":"Bundle","type":"collection","entry":[)";
  for (const auto& one : texts_)
    if (const auto parsed = json::parse(one); parsed.has_value() && !fhir_read::matters_in_bundle((*parsed)["resourceType"].text())) text += R"({"resource":)" + one + "},";
  text.back() = ']', text += "}";
  const auto seconds = [&](auto read) {
    double best = 1e9;
    for (int round = 0; round < 5; ++round) {
      const auto from = std::clock();  // of this process: others may be at work
      EXPECT_TRUE(read().has_value());
      best = std::min(best, static_cast<double>(std::clock() - from) / CLOCKS_PER_SEC);
    }
    return best;
  };
  const double spared = seconds([&] { return json::parse_sparing(text, fhir_read::matters_in_bundle); });
  const double whole = seconds([&] { return json::parse(text); });
  std::printf("a Bundle of %.1f MB that does not matter: %.2f of the time of its tree\n", static_cast<double>(text.size()) / 1e6, spared / whole);
  EXPECT_LT(spared, whole);
}

}  // namespace
