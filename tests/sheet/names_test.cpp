// Names as pictures: what comes out of the PDF against what pango draws of the same string with the same font files.
// pdftotext alone would not notice a lost mark: it reads what the file says a glyph means, not what is seen.
#include <filesystem>

#include "picture_support.h"
#include "sheet/pdf.h"
#include "sheet_support.h"

namespace sheet {
namespace {

/// Dots between two renderers' edges at this size, and what may stay unmatched: less than the dot over an i (about 70 dots).
constexpr int kReach = 2, kTolerance = 12;

class Names : public testing::TestWithParam<const char*> {};

TEST_P(Names, LookAsPangoDrawsThem) {
  const std::string name = GetParam();
  if (!fonts().uncovered(name).empty()) GTEST_SKIP() << "no font with these letters is installed (fonts-noto-cjk is optional)";
  for (const Weight weight : {Weight::regular, Weight::bold}) {
    const Picture ours = drawn_by_us(name, weight), theirs = drawn_by_pango(name, weight);
    EXPECT_GT(ink(ours), 500) << name;
    EXPECT_LE(unmatched(ours, theirs, kReach), kTolerance) << name;
  }
}

INSTANTIATE_TEST_SUITE_P(Scripts, Names,
                         testing::Values("Testcase, Anna-Lena", "Ångström Ñuñez Çelik Æsir Œuvre Þór Groß", "Łukasiewicz Żaneta Příhoda Ťuhýk Šťáva", "İnönü Şükrü Ağaoğlu",
                                         "Nguyễn Thị Hồng Ngữ", "Nguye\u0302\u0303n Thi\u0323 Ho\u0302\u0300ng", "A\u0308o\u0301c\u030C e\u0301\u0323", "Ǟ ṩ Ḗ ǭ",
                                         "Παπαδοπούλου Ελένη", "ᾧ Ἀθηνᾶ ῥόδον", "Щербакова Юлия Ґалаґан", "عائشة بنت محمد", "مُحَمَّد عبد الله", "شهرزاد پورچگینی",
                                         "שרה כהן", "בְּרֵאשִׁית", "अनुष्का श्रीवास्तव", "क्षत्रिय ज्ञानेन्द्र", "สมชาย ใจดี น้ำผึ้ง", "王小明 歐陽菲菲", "田中さくら", "김민수 박지현"));

TEST(NamesTold, ALostMarkIsSeen) {
  // The control: without the tilde, without one dot below, without a stroke the comparison must fail.
  for (const auto& [right, wrong] : {std::pair{"Nguyễn", "Nguyên"}, {"Thị", "Thi"}, {"Łuk", "Luk"}, {"Žaneta", "Zaneta"}})
    EXPECT_GT(unmatched(drawn_by_us(right, Weight::regular), drawn_by_pango(wrong, Weight::regular), kReach), kTolerance) << right;
}

TEST(NamesTold, DirectionIsSeen) {
  const std::string mixed = "שרה (Test) 1958";
  EXPECT_LE(unmatched(drawn_by_us(mixed, Weight::regular), drawn_by_pango(mixed, Weight::regular), kReach), kTolerance);
}

}  // namespace
}  // namespace sheet
