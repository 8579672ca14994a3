#include "tables/document.h"

#include <gtest/gtest.h>

namespace tables {
namespace {

TEST(Document, KeepsDigitsAndPlaces) {
  const Document document = read_text("# \u00e9\n[gate.act]\nlimit = { value = 1.80, unit = \"s\" } # one\nb = \"\u00e9\u00e9\"\nc = { a = \"\u00e9\", n = 2 }\n", "x.toml");
  ASSERT_TRUE(document.faults.empty());
  const Item* act = document.root.find("gate")->find("act");
  ASSERT_NE(act, nullptr);
  const Item* value = act->find("limit")->find("value");
  EXPECT_EQ(value->text, "1.80");
  EXPECT_EQ(value->at.line, 3);
  EXPECT_EQ(value->at.column, 19);
  EXPECT_EQ(value->key_at.column, 11);
  EXPECT_EQ(act->find("c")->find("n")->text, "2") << "columns are characters, not bytes";
  EXPECT_EQ(act->items[1].key, "b") << "order of the file";
}

TEST(Document, SyntaxErrorsRepeatedKeysAndBadBytesAreFaults) {
  const Document repeated = read_text("a = 1\na = 2\n", "x.toml");
  ASSERT_EQ(repeated.faults.size(), 1U);
  EXPECT_EQ(repeated.faults[0].line, 2);
  EXPECT_EQ(read_text("a = [1\n", "x.toml").faults.size(), 1U);
  EXPECT_EQ(read_text("a = \"\xff\"\n", "x.toml").faults.size(), 1U);
  EXPECT_EQ(read_file("does/not/exist.toml").faults.size(), 1U);
}

TEST(Decimal, IsExactOrRefused) {
  EXPECT_EQ(millionths("1.8"), 1'800'000);
  EXPECT_EQ(millionths("0.000001"), 1);
  EXPECT_EQ(millionths("-2.50000000"), -2'500'000);
  for (const char* bad : {"", "1.", ".5", "1e3", "1_000", "0x10", "inf", "nan", "1.2.3", "0.0000001", "9999999999999"})
    EXPECT_FALSE(millionths(bad)) << bad;
}

TEST(Decimal, IsWrittenAsShortAsItCanBe) {
  EXPECT_EQ(decimal(1'800'000), "1.8");
  EXPECT_EQ(decimal(150'000'000), "150");
  EXPECT_EQ(decimal(-1), "-0.000001");
  EXPECT_EQ(decimal(0), "0");
}

TEST(Nearest, FindsTheSlipOfThePen) {
  EXPECT_EQ(nearest("gate.act.limt", {"gate.act.limit", "gate.aptt.limit"}), "gate.act.limit");
  EXPECT_EQ(nearest("zzz", {"gate.act.limit"}), "");
}

TEST(Fault, PrintsPlaceWhatAndRemedy) {
  EXPECT_EQ(to_string({"a.toml", 3, 7, "wrong", "right it"}), "a.toml:3:7: wrong; do: right it");
  EXPECT_EQ(to_string({"a.toml", 0, 0, "unreadable", ""}), "a.toml: unreadable");
}

}  // namespace
}  // namespace tables
