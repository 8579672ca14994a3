// A resource that cannot matter is recognised without its tree, by the same judgement: over the official examples (hl7.fhir.r4.examples 4.0.1 and
// hl7.fhir.r5.examples 5.0.0, CC0), over damaged ones and over random JSON. The tree is the reference.
#include "json/outline.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>

namespace {

namespace fs = std::filesystem;

std::string bytes_of(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream all;
  all << in.rdbuf();
  return all.str();
}

std::vector<fs::path> official() {
  std::vector<fs::path> files;
  for (const char* package : {"hl7.fhir.r4.examples", "hl7.fhir.r5.examples"}) {
    const auto folder = fs::path(SOURCE_DIR) / "tests/peer/node_modules" / package;
    if (!fs::exists(folder)) continue;
    for (const auto& entry : fs::directory_iterator(folder))
      if (entry.path().extension() == ".json" && entry.file_size() < 1'000'000) files.push_back(entry.path());
  }
  std::ranges::sort(files);
  return files;
}

// Both judgements of one text; empty where they agree.
std::string difference(std::string_view text, const json::Limits& limits = {}) {
  const auto whole = json::parse(text, limits);
  const auto short_way = json::outline(text, limits);
  if (whole.has_error() != short_way.has_error()) return whole.has_error() ? "only the tree is refused: " + whole.error().text : "only the outline is refused: " + short_way.error().text;
  if (whole.has_error()) {
    const auto &a = whole.error(), &b = short_way.error();
    const bool same = a.offset == b.offset && a.line == b.line && a.column == b.column && a.too_large == b.too_large && a.text == b.text;
    return same ? "" : "refused for " + a.text + " and " + b.text;
  }
  const json::Outline expected{std::string((*whole)["resourceType"].text()), std::string((*whole)["id"].text()), std::string((*whole)["meta"]["versionId"].text())};
  if (*short_way != expected) return "the members differ: " + expected.resource_type + "/" + short_way->resource_type + " " + expected.id + "/" + short_way->id + " " + expected.version_id + "/" + short_way->version_id;
  const auto leading = json::leading_type(text);
  return leading.empty() || leading == expected.resource_type ? "" : "the beginning says " + std::string(leading) + ", the whole " + expected.resource_type;
}

TEST(Outline, is_what_the_tree_says_whatever_the_order_spelling_and_repetition) {
  for (const char* text : {R"({"resourceType":"Patient","id":"a","meta":{"versionId":"3"}})", R"({"meta":{"versionId":"3"},"id":"a","resourceType":"Patient"})", R"({"resource\u0054ype":"Pati\u0065nt"})",
                           R"({"resourceType":"Patient","resourceType":"Device"})", R"({"resourceType":7,"resourceType":"Device"})", R"({"contained":[{"resourceType":"Device","id":"x","meta":{"versionId":"9"}}],"id":"a"})",
                           R"({"meta":[{"versionId":"1"}],"meta":{"versionId":"2"}})", R"({"meta":{"x":{"versionId":"1"},"versionId":{"versionId":"2"}}})", R"({"meta":{"versionId":"1","versionId":"2"}})", R"({"meta":"versionId"})",
                           R"([{"resourceType":"Patient"}])", R"("resourceType")", "null", "7", "{}", "[]", "", " ", "{", R"({"resourceType":"Patient")", R"({"resourceType":"Patient"} x)", "\xEF\xBB\xBF{\"resourceType\":\"Patient\"}",
                           R"({"a":{"id":"inner"},"id":"outer"})", R"({"id":{"id":"inner"}})", R"({"resourceType":"Pa\ttient"})", R"(  { "resourceType" : "Patient" , "id" : "b" })", R"({"a":1e999})", R"({"a":"\ud800"})", "{\"a\":\"\xff\"}"})
    EXPECT_EQ(difference(text), "") << text;
  EXPECT_EQ(difference(std::string_view("{}\0", 3)), "");
  for (const json::Limits& limits : {json::Limits{.bytes = 10}, json::Limits{.depth = 2}, json::Limits{.values = 3}})
    for (const char* text : {R"({"a":1})", R"({"a":[1]})", R"({"a":[[1]]})", R"({"a":[1,2,3,4]})", R"({"resourceType":"Patient"})"}) EXPECT_EQ(difference(text, limits), "") << text;
}

TEST(Outline, of_every_official_example_and_of_damaged_ones) {
  const auto files = official();
  if (files.empty()) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
  std::minstd_rand random(20260302);
  std::size_t compared = 0;
  for (const auto& file : files) {
    auto text = bytes_of(file);
    ASSERT_EQ(difference(text), "") << file;
    ++compared;
    if (text.size() > 60'000 || text.empty()) continue;
    for (int round = 0; round < 3; ++round) {
      auto damaged = text;
      for (auto hits = 1 + random() % 3; hits > 0; --hits) {
        const auto at = random() % damaged.size();
        switch (random() % 5) {
          case 0: damaged[at] = static_cast<char>(random() % 256); break;
          case 1: damaged.erase(at, 1 + random() % 20); break;
          case 2: damaged.insert(at, damaged.substr(random() % damaged.size(), random() % 30)); break;
          case 3: damaged.insert(damaged.find('{') + 1, R"("resourceType":"Task",)"); break;
          default: damaged.resize(at + 1); break;
        }
        if (damaged.empty()) damaged = "{}";
      }
      ASSERT_EQ(difference(damaged), "") << file << "\n" << damaged.substr(0, 400);
      ++compared;
    }
  }
  EXPECT_GT(compared, 5'000u);
}

// Random trees whose names and texts are often those that count.
std::string random_json(std::minstd_rand& random, int depth) {
  static const char* names[] = {"\"resourceType\"", "\"id\"", "\"meta\"", "\"versionId\"", "\"contained\"", "\"m\\u0065ta\"", "\"\""};
  static const char* leaves[] = {"null", "true", "0", "-1.50e3", "\"Patient\"", "\"Group\"", "\"\"", "\"\\u0050atient\"", "\"\\n\"", "1e400", "01"};
  const auto pick = random() % (depth > 5 ? 1 : 4);
  if (pick == 0) return leaves[random() % (random() % 20 == 0 ? std::size(leaves) : std::size(leaves) - 2)];
  std::string text = pick == 1 ? "[" : "{";
  for (auto n = random() % 5; n > 0; --n) {
    if (pick != 1) text += std::string(names[random() % std::size(names)]) + ":";
    text += random_json(random, depth + 1) + (n > 1 ? "," : "");
  }
  return text + (pick == 1 ? "]" : "}");
}

TEST(Outline, of_random_json) {
  std::minstd_rand random(7);
  for (int round = 0; round < 60'000; ++round) {
    const auto text = random_json(random, 0);
    ASSERT_EQ(difference(text), "") << text;
  }
}

// The ratio is printed; the limit only catches a way that is no shorter.
TEST(Outline, costs_a_part_of_the_tree) {
  std::vector<std::string> texts;
  std::size_t size = 0;
  for (const auto& file : official()) {
    if (size > 20'000'000) break;
    texts.push_back(bytes_of(file));
    size += texts.back().size();
  }
  if (texts.empty()) GTEST_SKIP() << "the packages of examples are not installed (tests/peer/install)";
  const auto seconds = [&](auto read) {
    double best = 1e9;
    for (int round = 0; round < 5; ++round) {
      const auto from = std::clock();  // of this process: others may be at work
      for (const auto& text : texts) read(text);
      best = std::min(best, static_cast<double>(std::clock() - from) / CLOCKS_PER_SEC);
    }
    return best;
  };
  std::size_t seen = 0;
  const double tree = seconds([&](const std::string& text) { seen += json::parse(text).has_value(); });
  const double outline = seconds([&](const std::string& text) { seen += json::outline(text).has_value(); });
  EXPECT_GT(seen, 0u);
  std::printf("outline: %.2f of the tree's time, over %zu texts of %.1f MB (%.0f MB/s)\n", outline / tree, texts.size(), static_cast<double>(size) / 1e6, static_cast<double>(size) / 1e6 / outline);
  RecordProperty("outline_to_tree_percent", static_cast<int>(100 * outline / tree));
  EXPECT_LT(outline, tree);
}

}  // namespace
