#include "words/words.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "clinical/names.h"
#include "words/plural.h"

namespace words {
namespace {

using clinical::Instant;
using clinical::minutes;
using clinical::Reason;
using clinical::seconds;

Instant utc(int year, unsigned month, unsigned day, int hour, int minute, int second = 0) {
  return std::chrono::sys_days{std::chrono::year{year} / std::chrono::month{month} / std::chrono::day{day}} + std::chrono::hours{hour} + minutes{minute} +
         seconds{second};
}

const Words& english() {
  static const LoadedWords loaded = load_words(SOURCE_DIR "/templates", "en");
  return loaded.words;
}
Context berlin(Instant day) { return context_at(day, zone_named("Europe/Berlin")); }

/// A language folder made for one test.
class Folder {
 public:
  explicit Folder(const std::string& text, const std::string& language = "en") : root_(testing::TempDir() + "words-" + name()) {
    add(text, language);
  }
  ~Folder() { std::filesystem::remove_all(root_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  void add(const std::string& text, const std::string& language, const std::string& file = "a.toml") const {
    std::filesystem::create_directories(root_ / language);
    std::ofstream{root_ / language / file} << text;
  }
  LoadedWords load(const std::string& language = "en") const { return load_words(root_, language); }

 private:
  static std::string name() { return testing::UnitTest::GetInstance()->current_test_info()->name(); }
  std::filesystem::path root_;
};

TEST(English, LoadsWithoutFault) {
  const auto loaded = load_words(SOURCE_DIR "/templates", "en-GB");
  for (const auto& fault : loaded.faults) ADD_FAILURE() << tables::to_string(fault);
  EXPECT_EQ(loaded.words.language(), "en");
}

template <class E>
void expect_terms(std::string_view group, E last) {
  for (int i = 0; i <= static_cast<int>(last); ++i) {
    const std::string key = std::string{group} + "." + std::string{clinical::name_of(static_cast<E>(i))};
    EXPECT_TRUE(english().has_term(key)) << key;
  }
}

TEST(English, HasAWordForEveryCodedValue) {
  expect_terms("gate", clinical::GateName::haemoglobin);
  expect_terms("gate-state", clinical::GateState::ask);
  expect_terms("fact", clinical::Fact::bed_rest);
  expect_terms("step", clinical::Step::check_sheet);
  expect_terms("status", clinical::StepStatus::cancelled);
  expect_terms("state", clinical::CaseState::withdrawn);
  expect_terms("alert-level", clinical::AlertLevel::emergency);
  expect_terms("asked-of", clinical::AskedOf::laboratory);
  expect_terms("side", clinical::Side::right);
  expect_terms("vessel", clinical::Vessel::vein);
  expect_terms("closure", clinical::Closure::suture);
  expect_terms("agent", clinical::Agent::unidentified);
  expect_terms("analyte", clinical::Analyte::bilirubin);
  expect_terms("event", clinical::AccessEventKind::sheath_in_place);
  expect_terms("unit", clinical::SettingUnit::unit_per_kilogram);
}

TEST(Times, ArePlainOnTheirDayAndDatedOnAnother) {
  const Instant evening = utc(2026, 3, 2, 17, 12);
  EXPECT_EQ(english().time(evening, berlin(evening)), "18:12");
  EXPECT_EQ(english().time(evening + minutes{360}, berlin(evening)), "3 Mar 00:12");
  EXPECT_EQ(english().time(evening, berlin(evening), Format::date), "2 Mar 18:12");
  EXPECT_EQ(english().time(evening, {}), "2 Mar 17:12") << "no zone is UTC, no day dates every time";
}

TEST(Times, RoundDownAndPermissionsUp) {
  const Instant at = utc(2026, 3, 2, 16, 22, 30);
  EXPECT_EQ(english().time(at, context_at(at, nullptr)), "16:22");
  EXPECT_EQ(english().time(at, context_at(at, nullptr), Format::up), "16:23");
}

// Europe/Berlin left summer time on 2026-10-25 at 01:00 UTC and entered it on 2026-03-29 at 01:00 UTC: IANA time zone database.
TEST(Times, NameTheOffsetInTheNightThatIsLonger) {
  const Context context = berlin(utc(2026, 10, 25, 12, 0));
  EXPECT_EQ(english().time(utc(2026, 10, 24, 23, 30), context), "01:30 (UTC+2)");
  EXPECT_EQ(english().time(utc(2026, 10, 25, 0, 30), context), "02:30 (UTC+2)");
  EXPECT_EQ(english().time(utc(2026, 10, 25, 1, 30), context), "02:30 (UTC+1)");
  EXPECT_EQ(english().time(utc(2026, 10, 25, 2, 30), context), "03:30 (UTC+1)");
  EXPECT_EQ(english().time(utc(2026, 10, 24, 21, 30), context), "24 Oct 23:30") << "the evening before has one offset";
}
TEST(Times, NameTheOffsetInTheNightThatIsShorter) {
  const Context context = berlin(utc(2026, 3, 29, 12, 0));
  EXPECT_EQ(english().time(utc(2026, 3, 29, 0, 30), context), "01:30 (UTC+1)");
  EXPECT_EQ(english().time(utc(2026, 3, 29, 1, 30), context), "03:30 (UTC+2)");
  EXPECT_EQ(english().time(utc(2026, 3, 29, 22, 30), context), "30 Mar 00:30");
}
// Asia/Kolkata is UTC+5:30, Australia/Lord_Howe changes by half an hour (to +10:30 on 2026-04-04 15:00 UTC): IANA time zone database.
// 22:00 + 6 h = 05:00 is right in a night that is an hour shorter, and looks wrong where only one side says so.
TEST(Times, InASumAcrossAChangeOfTheClockBothSidesNameTheirOffset) {
  const Context spring = context_at(utc(2026, 3, 28, 21, 0), zone_named("Europe/Berlin"));
  const auto sum = [&](clinical::Instant from, clinical::Instant to) {
    return english().render({"sum.rest", {{"from", from}, {"length", clinical::seconds{to - from}}, {"to", to}}}, spring);
  };
  EXPECT_EQ(sum(utc(2026, 3, 28, 21, 0), utc(2026, 3, 29, 3, 0)), "22:00 (UTC+1) + 6 h = 29 Mar 05:00 (UTC+2)");
  EXPECT_EQ(sum(utc(2026, 3, 28, 17, 0), utc(2026, 3, 28, 21, 0)), "18:00 + 4 h = 22:00");
}

TEST(Times, KnowHalfHours) {
  const auto kolkata = context_at(utc(2026, 3, 2, 12, 0), zone_named("Asia/Kolkata"));
  EXPECT_EQ(english().time(utc(2026, 3, 2, 12, 0), kolkata), "17:30");
  const auto lord_howe = context_at(utc(2026, 4, 5, 0, 0), zone_named("Australia/Lord_Howe"));
  EXPECT_EQ(english().time(utc(2026, 4, 4, 15, 30), lord_howe), "02:00 (UTC+10:30)");
  EXPECT_EQ(zone_named("Mars/Olympus"), nullptr);
}

TEST(Times, AreAsPreciseAsTheyWereRecorded) {
  const Context context = berlin(utc(2026, 3, 2, 12, 0));
  const auto said = [&](Instant from, Instant to) { return english().moment({from, to}, context); };
  EXPECT_EQ(said(utc(2026, 3, 2, 17, 12), utc(2026, 3, 2, 17, 12)), "18:12");
  EXPECT_EQ(said(utc(2026, 3, 2, 17, 12), utc(2026, 3, 2, 17, 12, 59)), "18:12") << "no seconds";
  EXPECT_EQ(said(utc(2026, 3, 1, 23, 0), utc(2026, 3, 2, 22, 59, 59)), "2 Mar, time not recorded");
  EXPECT_EQ(said(utc(2026, 2, 28, 23, 0), utc(2026, 3, 1, 22, 59, 59)), "1 Mar, time not recorded");
  EXPECT_EQ(said(utc(2026, 1, 31, 23, 0), utc(2026, 2, 28, 22, 59, 59)), "1 Feb to 28 Feb, day not recorded");
  EXPECT_EQ(said(utc(2026, 3, 2, 10, 0), utc(2026, 3, 2, 10, 30)), "11:00 to 11:30");
  EXPECT_EQ(said(utc(2026, 3, 1, 10, 0), utc(2026, 3, 3, 11, 59, 59)), "2 Mar, time not recorded") << "read without a zone: midnight anywhere, UTC+14 to UTC-12";
  EXPECT_EQ(english().argument(clinical::Moment{utc(2026, 3, 1, 23, 0), utc(2026, 3, 2, 22, 59, 59)}, context), "2 Mar, time not recorded");
}

TEST(Durations, AreHoursAndMinutes) {
  const auto said = [](auto length, Format format = Format::plain) { return english().duration(length, format); };
  EXPECT_EQ(said(minutes{25}), "25 min");
  EXPECT_EQ(said(minutes{165}), "2 h 45 min");
  EXPECT_EQ(said(minutes{360}), "6 h");
  EXPECT_EQ(said(minutes{120 * 60}), "120 h");
  EXPECT_EQ(said(seconds{90}), "1 min 30 s");
  EXPECT_EQ(said(seconds{0}), "0 min");
  EXPECT_EQ(said(minutes{-5}), "-5 min");
  EXPECT_EQ(said(minutes{165}, Format::min), "165 min");
}

TEST(Sentences, TakeEveryKindOfArgument) {
  const Folder folder("[reason]\n\"gate.act.over\" = \"{Agent}: {value} at {at}, {n} of {{3}, wait {wait} for {who}\"\n[term.agent]\nheparin = \"heparin\"\n"
                      "[label]\n\"unit.min\" = \"min\"\n");
  const auto loaded = folder.load();
  ASSERT_TRUE(loaded.faults.empty());
  const Instant at = utc(2026, 3, 2, 17, 12);
  const Reason reason{"gate.act.over", {{"agent", "@agent.heparin"}, {"value", clinical::Value{clinical::whole(290), {}, "290 s"}}, {"at", at},
                                        {"n", std::int64_t{2}}, {"wait", seconds{1500}}, {"who", std::string{"Dr Test"}}}};
  EXPECT_EQ(loaded.words.render(reason, context_at(at, nullptr)), "Heparin: 290 s at 17:12, 2 of {3}, wait 25 min for Dr Test");
  EXPECT_TRUE(loaded.words.missing().empty());
}

TEST(Sentences, ChooseTheFormByNumber) {
  const auto words = Folder{"[text]\nleft = { one = \"one check\", other = \"{n} checks\" }\n"}.load().words;
  EXPECT_EQ(words.text("left", {{"n", std::int64_t{1}}}, {}), "one check");
  EXPECT_EQ(words.text("left", {{"n", std::int64_t{4}}}, {}), "4 checks");
  EXPECT_EQ(words.text("left", {{"n", std::int64_t{0}}}, {}), "0 checks");
}

// Unicode CLDR, plural rules: Polish 1 / 2-4, 22 / 5, 12; French 0 and 1; Japanese has one form.
TEST(Sentences, OtherLanguagesCountInTheirOwnWay) {
  EXPECT_EQ(plural_form("pl", 22), "few");
  EXPECT_EQ(plural_form("pl", 12), "many");
  EXPECT_EQ(plural_form("fr-CA", 0), "one");
  EXPECT_EQ(plural_form("ja", 1), "other");
  // The same table, Arabic: 0, 1, 2, then by the last two digits 3-10, 11-99, else (100-102).
  for (const auto& [n, form] : {std::pair{0, "zero"}, {1, "one"}, {2, "two"}, {3, "few"}, {10, "few"}, {11, "many"}, {99, "many"}, {100, "other"}, {102, "other"}, {103, "few"}, {111, "many"}})
    EXPECT_EQ(plural_form("ar", n), form) << n;
}

TEST(Missing, IsShownAndNotedNeverThrown) {
  const auto words = Folder{"[reason]\na = \"{x} and {y}\"\n"}.load().words;
  const Reason unknown{"no.such", {{"n", std::int64_t{3}}, {"drug", "@agent.nothing"}}};
  EXPECT_EQ(words.render(unknown, {}), "[no.such: n 3, drug agent.nothing]");
  EXPECT_EQ(words.render({"a", {{"x", std::string{"X"}}}}, {}), "X and [y?]");
  EXPECT_EQ(words.render({}, {}), "");
  EXPECT_EQ(words.label("unit.h"), "[unit.h]");
  EXPECT_THAT(words.missing(), testing::ElementsAre("argument y of reason a", "label unit.h", "reason no.such", "term agent.nothing"));
}

TEST(Faults, NameFileLineAndColumn) {
  const Folder folder("[reason]\na = \"{open\"\nb = \"{}\"\nc = \"{at:later}\"\nd = { one = \"x\" }\ne = 3\n[term]\nf = \"{x}\"\n[words]\ng = \"x\"\n");
  folder.add("[reason.a]\nb = \"x\"\n[reason]\nb = \"again\"\n", "en", "b.toml");
  std::vector<std::string> said;
  for (auto fault : folder.load().faults) {
    fault.file = std::filesystem::path{fault.file}.filename();
    said.push_back(tables::to_string(fault));
  }
  EXPECT_THAT(said, testing::UnorderedElementsAre(
                        "a.toml:2:5: 'a': a '{' is not closed; do: correct the braces; a brace itself is written {{",
                        "a.toml:3:5: 'b': '{}' names no argument; do: correct the braces; a brace itself is written {{",
                        "a.toml:4:5: 'c': '{at:later}' has an unknown format; there are up, date and min; do: correct the braces; a brace itself is written {{",
                        "a.toml:5:1: 'd' has no form 'other'; do: add other = \"...\"", "a.toml:6:5: 'e' is a number; do: write a string",
                        "a.toml:8:5: 'f' in [term] has an argument; do: move it to [text], or take the argument out",
                        "a.toml:9:2: unknown table 'words'; do: write reason, text, term or label"));
  EXPECT_EQ(folder.load("xx").faults.size(), 1U);
}

TEST(Faults, AKeyStandsInOneFileOnly) {
  const Folder folder("[reason]\na = \"x\"\n");
  folder.add("[reason]\na = \"y\"\n", "en", "b.toml");
  const auto faults = folder.load().faults;
  ASSERT_EQ(faults.size(), 1U);
  EXPECT_THAT(faults[0].text, testing::HasSubstr("stands also at"));
}

TEST(Languages, AreCompared) {
  const Folder folder("[reason]\na = \"{x}\"\nb = \"b\"\n");
  folder.add("[reason]\na = \"{y}\"\nc = \"c\"\n", "de");
  std::vector<std::string> said;
  for (const auto& fault : compare(folder.load().words, folder.load("de").words)) said.push_back(fault.text);
  EXPECT_THAT(said, testing::UnorderedElementsAre("'reason a' has the arguments y, in en x", "'reason b' is not in language de", "'reason c' is not in language en"));
}

TEST(Languages, WhatOneLacksIsTakenFromAnother) {
  const Folder folder("[text]\na = \"a\"\nb = \"b {n}\"\n");
  folder.add("[text]\na = \"ä\"\n", "de");
  Words german = folder.load("de").words;
  german.complete_from(folder.load().words);
  EXPECT_EQ(german.text("a"), "ä");
  EXPECT_EQ(german.text("b", {{"n", std::int64_t{7}}}, {}), "b 7");
  EXPECT_THAT(german.missing(), testing::IsEmpty());
  EXPECT_EQ(german.language(), "de");
}

TEST(Languages, FirstLettersAreMadeLarge) {
  EXPECT_EQ(capital("östlich"), "Östlich");
  EXPECT_EQ(capital("łokieć"), "Łokieć");
  EXPECT_EQ(capital("énoxaparine"), "Énoxaparine");
  EXPECT_EQ(capital("غمد"), "غمد") << "no large letters";
  EXPECT_EQ(capital("ACT"), "ACT");
  EXPECT_EQ(capital(""), "");
  EXPECT_EQ(capital("\xC3"), "\xC3") << "no letter: unchanged";
}

TEST(Languages, FromTheRightArgumentsStandApart) {
  const Folder folder("[text]\na = \"x {v} y\"\n", "ar");
  const Words words = folder.load("ar").words;
  EXPECT_TRUE(words.right_to_left());
  EXPECT_EQ(words.text("a", {{"v", std::string("80 kg")}}, {}), "x \u206680 kg\u2069 y");
  EXPECT_EQ(words.text("a", {{"v", std::string("2 مارس")}}, {}), "x \u20672 مارس\u2069 y");
  EXPECT_EQ(words.apart("80 kg"), "\u206680 kg\u2069");
  EXPECT_EQ(words.apart(""), "");
  EXPECT_FALSE(english().right_to_left());
  EXPECT_EQ(english().apart("80 kg"), "80 kg");
}

}  // namespace
}  // namespace words
