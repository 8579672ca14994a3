// The shipped protocol with early rows, and what the loader makes of [early-walk].
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "profile/protocol_file.h"

namespace profile {
namespace {

const std::filesystem::path kFolder = SOURCE_DIR "/profiles/protocol";

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>{in}, {}};
}
LoadedProtocol beside_cautious(std::string text) { return load_protocol_text(std::move(text), (kFolder / "invented.toml").string()); }
std::vector<std::string> spoken(const LoadedProtocol& loaded) {
  std::vector<std::string> out;
  for (const auto& fault : loaded.faults) out.push_back(tables::to_string(fault));
  return out;
}
std::string heir_of(const std::string& base, const std::string& rest) {
  return "[protocol]\nid = \"invented\"\nversion = \"1\"\ntitle = \"Invented\"\nstatus = \"draft\"\nlast-reviewed = \"2026-11-27\"\ninherits = \"" + base + "\"\n" + rest;
}
const std::string kOneRow = "[early-walk.rest]\n6 = { value = 3, unit = \"h\", source = \"invented local choice\", grade = \"P\", check = \"OWN\", date = \"2026-11-27\" }\n";

TEST(EarlyWalkFile, IsCautiousWithFourRowsAndWhomTheyLeaveOut) {
  const auto loaded = load_protocol(kFolder / "early-walk.toml"), cautious = load_protocol(kFolder / "cautious.toml");
  ASSERT_TRUE(loaded.protocol) << testing::PrintToString(spoken(loaded));
  ASSERT_TRUE(loaded.protocol->early_walk);
  ASSERT_TRUE(cautious.protocol);
  EXPECT_FALSE(cautious.protocol->early_walk) << "early rows are no values of cautious";
  const auto values = canonical_values(*loaded.protocol);
  EXPECT_TRUE(values.starts_with(canonical_values(*cautious.protocol))) << "nothing else differs";
  EXPECT_THAT(values, testing::HasSubstr("early-walk.rest.4=2 h\nearly-walk.rest.5=2 h\nearly-walk.rest.6=2.5 h\nearly-walk.rest.7=4 h\n"));
  EXPECT_THAT(values, testing::HasSubstr("early-walk.excluded.intervention=4 5 6 7 [Ch]\n"));
  EXPECT_NE(loaded.values_sha256, cautious.values_sha256);
  EXPECT_FALSE(loaded.protocol->approved);
  int exclusions = 0;
  clinical::each_early(*loaded.protocol->early_walk, [](const auto&, auto...) {}, [&](const clinical::Exclusion& one, const char* key) {
    ++exclusions;
    EXPECT_THAT(one.rows, testing::ElementsAre(4, 5, 6, 7)) << key;
    EXPECT_FALSE(one.rule.source.empty()) << key;
  });
  EXPECT_EQ(exclusions, 15);
}

TEST(EarlyWalkFile, EachLineIsDemandedByName) {
  const std::string whole = text_of(kFolder / "early-walk.toml");
  int removed = 0;
  for (std::size_t from = 0, end; from < whole.size(); from = end + 1) {
    end = whole.find('\n', from);
    const std::string line = whole.substr(from, end - from);
    if (line.find("unit = ") == std::string::npos) continue;
    ++removed;
    const auto loaded = beside_cautious(whole.substr(0, from) + whole.substr(end + 1));
    ASSERT_EQ(loaded.faults.size(), 1U) << line;
    EXPECT_THAT(loaded.faults[0].text, testing::AllOf(testing::HasSubstr(" lacks " + line.substr(0, line.find(' '))), testing::StartsWith("[early-walk."))) << line;
    EXPECT_GT(loaded.faults[0].line, 0) << line;
  }
  EXPECT_EQ(removed, 4 + 4 + 15);
}

TEST(EarlyWalkFile, AnHeirChangesOneRowOfRowsThatAreThere) {
  const auto loaded = beside_cautious(heir_of("early-walk.toml", kOneRow));
  ASSERT_TRUE(loaded.protocol) << testing::PrintToString(spoken(loaded));
  EXPECT_EQ(loaded.protocol->early_walk->rest_6.micro, clinical::whole(3));
  EXPECT_EQ(loaded.protocol->early_walk->rest_7.micro, clinical::whole(4));
  EXPECT_EQ(loaded.protocol->early_walk->rest_6.rule.key, "early-walk.rest.6");
  const auto none = beside_cautious(heir_of("cautious.toml", kOneRow));
  EXPECT_FALSE(none.protocol) << "early rows are there whole or not at all";
  EXPECT_THAT(spoken(none), testing::Contains(testing::HasSubstr("[early-walk.rest] lacks 4, 5, 7")));
  EXPECT_THAT(spoken(none), testing::Contains(testing::HasSubstr("[early-walk.excluded] lacks access, closure")));
}

// 3 h at 6 F is more than 2 h at 5 F; 4.5 h at 6 F would be more than 4 h at 7 F, and 7 h at 7 F is what `cautious` says already.
TEST(EarlyWalkFile, RowsKeepTheirOrderAndNeverPassTheLongerRest) {
  const auto with = [](const std::string& row, const std::string& value) {
    return spoken(beside_cautious(heir_of("early-walk.toml", "[early-walk.rest]\n" + row + " = { value = " + value + ", unit = \"h\", source = \"invented\", grade = \"P\", check = \"OWN\", date = \"2026-11-27\" }\n")));
  };
  EXPECT_THAT(with("6", "4.5"), testing::ElementsAre(testing::HasSubstr("'early-walk.rest.6' is 4.5 h, but 'early-walk.rest.7' is 4 h")));
  EXPECT_THAT(with("7", "7"), testing::IsEmpty());
  EXPECT_THAT(with("7", "7.5"), testing::ElementsAre(testing::HasSubstr("'early-walk.rest.7' is 7.5 h, but without early rows the rest is 7 h")));
  EXPECT_THAT(with("4", "0.5"), testing::Contains(testing::HasSubstr("outside 1 to 8 h")));
}

TEST(EarlyWalkFile, ItsPlanDefinitionHasItsVersion) {
  const auto loaded = load_protocol(kFolder / "early-walk.toml");
  ASSERT_TRUE(loaded.protocol);
  const auto definition = text_of(SOURCE_DIR "/profiles/fhir/PlanDefinition-early-walk.json");
  EXPECT_THAT(definition, testing::HasSubstr("\"version\": \"" + loaded.protocol->version + "\""));
  EXPECT_THAT(definition, testing::HasSubstr("/PlanDefinition/" + loaded.protocol->id + "\""));
  // The steps are those of the other: what comes after "action" is the same.
  const auto other = text_of(SOURCE_DIR "/profiles/fhir/PlanDefinition-cautious.json");
  EXPECT_EQ(definition.substr(definition.find("\"action\"")), other.substr(other.find("\"action\"")));
}

}  // namespace
}  // namespace profile
