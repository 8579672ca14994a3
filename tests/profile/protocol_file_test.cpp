#include "profile/protocol_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>

#include "profile/sha256.h"

namespace profile {
namespace {

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>{in}, {}};
}
std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t from = 0; from < text.size();) {
    const auto end = std::min(text.find('\n', from), text.size());
    lines.push_back(text.substr(from, end - from));
    from = end + 1;
  }
  return lines;
}
std::vector<std::string> spoken(const std::vector<tables::Fault>& faults) {
  std::vector<std::string> out;
  for (const auto& fault : faults) out.push_back(tables::to_string(fault));
  return out;
}
const std::filesystem::path kFaulty = SOURCE_DIR "/tests/profile/faulty";
const std::string kCautious = SOURCE_DIR "/profiles/protocol/cautious.toml";

/// The cautious file with one piece of text exchanged, which must stand in it exactly once.
LoadedProtocol cautious_with(const std::string& from, const std::string& to) {
  std::string text = text_of(kCautious);
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  EXPECT_EQ(text.find(from, at + 1), std::string::npos) << from << " stands there twice";
  return load_protocol_text(text.replace(at, from.size(), to), "cautious.toml");
}

class Faulty : public testing::TestWithParam<std::filesystem::path> {};

TEST_P(Faulty, SaysWhatIsWrongWhereAndWhatToDo) {
  const auto expected = lines_of(text_of(std::filesystem::path{GetParam()}.replace_extension("expected")));
  ASSERT_FALSE(expected.empty());
  const auto loaded = load_protocol_text(text_of(GetParam()), GetParam().filename().string());
  EXPECT_FALSE(loaded.protocol);
  std::vector<std::string> said;
  for (const auto& line : spoken(loaded.faults))  // these files are short: only the lacks that a file is about are listed
    if (line.find(" lacks ") == std::string::npos || testing::Value(expected, testing::Contains(line))) said.push_back(line);
  EXPECT_EQ(said, expected);
}

std::vector<std::filesystem::path> faulty_files() {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator{kFaulty})
    if (entry.path().extension() == ".toml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}
INSTANTIATE_TEST_SUITE_P(Files, Faulty, testing::ValuesIn(faulty_files()), [](const auto& file) {
  std::string name = file.param.stem().string();
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
});

TEST(FaultyFiles, AreAtLeastTen) { EXPECT_GE(faulty_files().size(), 10U); }

TEST(Protocol, EachSettingIsDemandedOnceAndByName) {
  ASSERT_TRUE(load_protocol(kCautious).protocol);
  const auto lines = lines_of(text_of(kCautious));
  int removed = 0;
  for (std::size_t without = 0; without < lines.size(); ++without) {
    if (lines[without].find("unit = ") == std::string::npos) continue;
    std::string text;
    for (std::size_t i = 0; i < lines.size(); ++i)
      if (i != without) text += lines[i] + '\n';
    const auto loaded = load_protocol_text(text, "x.toml");
    ASSERT_EQ(loaded.faults.size(), 1U) << lines[without];
    EXPECT_NE(loaded.faults[0].text.find(lines[without].substr(0, lines[without].find(' '))), std::string::npos) << loaded.faults[0].text;
    ++removed;
  }
  int settings = 0;
  clinical::Protocol none;
  clinical::each_setting(none, [&](auto&, auto...) { ++settings; }, [&](auto&, auto...) { ++settings; });
  EXPECT_EQ(removed, settings);
}

// Only the local team can say these: a file without them leaves them unset, and one that says them says unit and source as for any other.
TEST(Protocol, WhatOnlyTheLocalTeamCanSayMayBeLeftOut) {
  const auto plain = load_protocol(kCautious);
  ASSERT_TRUE(plain.protocol);
  EXPECT_FALSE(plain.protocol->anti_xa_limit);
  EXPECT_FALSE(plain.protocol->pressure_full);
  EXPECT_FALSE(plain.protocol->pressure_partial);
  EXPECT_FALSE(plain.protocol->pressure_low);
  const std::string rest = R"(source = "invented for the test", grade = "P", check = "OWN", date = "2026-11-24" })";
  const auto said = load_protocol_text("[protocol]\nid = \"x\"\nversion = \"1\"\ntitle = \"x\"\nstatus = \"draft\"\nlast-reviewed = \"2026-11-25\"\ninherits = \"cautious.toml\"\n"
                                       "[hold.mechanical]\nfull-above-systolic = { value = 20, unit = \"mm[Hg]\", " + rest +
                                       "\npartial-above-mean = { value = 0, unit = \"mm[Hg]\", " + rest + "\n[gate.low-molecular-weight-heparin]\nanti-xa = { value = 0.5, unit = \"[iU]/mL\", " + rest,
                                       (std::filesystem::path(kCautious).parent_path() / "x.toml").string());
  ASSERT_TRUE(said.protocol) << (said.faults.empty() ? "" : said.faults.front().text);
  ASSERT_TRUE(said.protocol->pressure_full && said.protocol->pressure_partial && said.protocol->anti_xa_limit);
  EXPECT_EQ(said.protocol->pressure_full->micro, clinical::whole(20));
  EXPECT_EQ(said.protocol->anti_xa_limit->micro, 500'000);
  EXPECT_EQ(said.protocol->anti_xa_limit->rule.grade, "P");
  EXPECT_FALSE(said.protocol->pressure_low);
  EXPECT_THAT(canonical_values(*said.protocol), testing::HasSubstr("hold.mechanical.full-above-systolic=20 mm[Hg]\n"));
  EXPECT_NE(said.values_sha256, plain.values_sha256) << "an approval of the one does not cover the other";
  const auto bare = load_protocol_text(text_of(kCautious) + "\n[hold.mechanical.low-pressure]\nvalue = 900\n", "x.toml");
  EXPECT_FALSE(bare.faults.empty());
}

TEST(Protocol, DecimalsAreExact) {
  const auto loaded = load_protocol(kCautious);
  ASSERT_TRUE(loaded.protocol);
  EXPECT_EQ(loaded.protocol->inr_ask.micro, 1'800'000);
  EXPECT_EQ(loaded.protocol->creatinine_rise_48h.micro, 300'000);
  EXPECT_EQ(loaded.protocol->inr_ask.rule.key, "gate.warfarin-inr.ask");
}

// SHA-256 of "abc": FIPS 180-4, the worked example of the Secure Hash Standard.
TEST(Protocol, HashesTheBytes) {
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  const auto loaded = load_protocol(kCautious);
  ASSERT_TRUE(loaded.protocol);
  EXPECT_EQ(loaded.protocol->sha256, sha256_hex(text_of(kCautious)));
}

TEST(Protocol, ApprovalCoversValuesNotSpelling) {
  const auto plain = load_protocol(kCautious);
  ASSERT_TRUE(plain.protocol);
  EXPECT_THAT(canonical_values(*plain.protocol), testing::StartsWith("case.look-back=168 h\n"));
  EXPECT_THAT(canonical_values(*plain.protocol), testing::HasSubstr("\nwatch.high=8x15 4x30 4x60 0x240 min\n"));
  EXPECT_EQ(plain.values_sha256, sha256_hex(canonical_values(*plain.protocol)));
  const auto respelled = cautious_with("ask = { value = 1.8,", "ask = { value =   1.800,");
  ASSERT_TRUE(respelled.protocol);
  EXPECT_EQ(respelled.values_sha256, plain.values_sha256);
  EXPECT_NE(respelled.protocol->sha256, plain.protocol->sha256);
}

std::string approval(const std::string& name, const std::string& role, const std::string& covers) {
  return "\n[[approval]]\nname = \"" + name + "\"\nrole = \"" + role + "\"\ndate = \"2026-11-24\"\ncovers = \"" + covers + "\"\n";
}

LoadedProtocol active_with(const std::string& approvals) {
  std::string text = text_of(kCautious);
  const std::string draft = "status = \"draft\"";
  text.replace(text.find(draft), draft.size(), "status = \"active\"");
  return load_protocol_text(text + approvals, kCautious);
}

TEST(Protocol, IsApprovedOnlyByTwoPeopleInTwoRolesForTheseValues) {
  const std::string values = load_protocol(kCautious).values_sha256;
  const auto approved = active_with(approval("Test Person", "invented consultant", values) + approval("Other Person", "invented matron", values));
  ASSERT_TRUE(approved.protocol);
  EXPECT_TRUE(approved.protocol->approved);
  EXPECT_TRUE(approved.notes.empty());
  const auto alone = active_with(approval("Test Person", "invented consultant", values) + approval("Test Person", "invented matron", values));
  ASSERT_TRUE(alone.protocol);
  EXPECT_FALSE(alone.protocol->approved);
  EXPECT_THAT(spoken(alone.notes), testing::Contains(testing::HasSubstr("second person")));
  EXPECT_FALSE(active_with(approval("Test Person", "nurse", values) + approval("Other Person", "nurse", values)).protocol->approved);
  const auto stale = active_with(approval("Test Person", "invented consultant", values) + approval("Other Person", "invented matron", std::string(64, '0')));
  ASSERT_TRUE(stale.protocol);
  EXPECT_FALSE(stale.protocol->approved);
  EXPECT_THAT(spoken(stale.notes), testing::Contains(testing::HasSubstr("covers other values")));
  EXPECT_THAT(spoken(stale.notes), testing::Contains(testing::HasSubstr(values))) << "and says what to sign";
}

TEST(Protocol, InheritsAndChangesSingleValues) {
  const std::string heir = R"([protocol]
id = "invented-ward"
version = "1"
title = "Invented ward"
status = "draft"
last-reviewed = "2026-11-25"
inherits = "cautious.toml"
[gate.act]
limit = { value = 140, unit = "s", source = "invented local choice", grade = "P", check = "OWN", date = "2026-11-25" }
[local]
call-number = "invented 4711"
)";
  const std::string beside = (std::filesystem::path(kCautious).parent_path() / "invented.toml").string();
  const auto base = load_protocol(kCautious);
  const auto loaded = load_protocol_text(heir, beside);
  ASSERT_TRUE(loaded.protocol) << testing::PrintToString(spoken(loaded.faults));
  EXPECT_EQ(loaded.protocol->id, "invented-ward");
  EXPECT_EQ(loaded.protocol->act_limit.micro, 140'000'000);
  EXPECT_EQ(loaded.protocol->act_limit.rule.source, "invented local choice");
  EXPECT_EQ(loaded.protocol->aptt_limit.micro, base.protocol->aptt_limit.micro);
  EXPECT_EQ(loaded.protocol->series_high.steps.size(), base.protocol->series_high.steps.size());
  EXPECT_NE(loaded.values_sha256, base.values_sha256);
  EXPECT_THAT(canonical_values(*loaded.protocol), testing::HasSubstr("local.call-number=invented 4711\n"));
  EXPECT_NE(loaded.protocol->sha256, sha256_hex(heir)) << "the inherited file counts";
  const auto nowhere = load_protocol_text(heir, "elsewhere/invented.toml");
  EXPECT_FALSE(nowhere.protocol);
  std::string odd = heir;
  odd.replace(odd.find("call-number"), 11, "call-nummer");
  EXPECT_THAT(spoken(load_protocol_text(odd, beside).faults), testing::Contains(testing::HasSubstr("call-number")));
}

}  // namespace
}  // namespace profile
