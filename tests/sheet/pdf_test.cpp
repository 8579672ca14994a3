// The file itself, judged by other programs: qpdf (structure), pdfinfo (pages, size), pdftotext (what can be searched and copied).
#include "sheet/say.h"
#include "sheet_support.h"

namespace sheet {
namespace {

using testing::HasSubstr;

std::string text_of(const Pdf& pdf, const std::string& name) { return output_of("pdftotext " + scratch(name + ".pdf", pdf.bytes) + " - 2>&1"); }

TEST(SheetPdf, IsWellFormedWithItsPages) {
  for (const auto& c : all_cases()) {
    const Pdf pdf = pdf_of_case(c);
    const std::string path = scratch(c.name + ".pdf", pdf.bytes);
    EXPECT_THAT(output_of("qpdf --check " + path + " 2>&1"), HasSubstr("No syntax or stream encoding errors found")) << c.name;
    const std::string info = output_of("pdfinfo " + path + " 2>&1");
    EXPECT_THAT(info, testing::ContainsRegex("Pages: +" + std::to_string(pdf.pages) + "\n")) << c.name;
    EXPECT_THAT(info, HasSubstr(c.paper == "Letter" ? "612 x 792 pts (letter)" : "595.28 x 841.89 pts (A4)")) << c.name;
    EXPECT_THAT(info, testing::Not(HasSubstr("TESTCASE"))) << "no patient in the metadata";
    EXPECT_THAT(info, testing::Not(HasSubstr("rror"))) << c.name;
  }
}

TEST(SheetPdf, TextLayerHasEveryTime) {
  for (const auto& c : {waiting_for_act(), compressing(), resting(), rebleed()}) {
    const SheetInput in = c.input();
    const Say say(in);
    const std::string text = text_of(pdf_of_case(c), c.name);
    for (const auto& m : c.plan.sites[0].milestones)
      if (m.earliest && m.status != clinical::StepStatus::done && m.status != clinical::StepStatus::cancelled) {
        EXPECT_THAT(text, HasSubstr(say.hour(*m.earliest, words::Format::up))) << c.name;
      }
    EXPECT_THAT(text, HasSubstr("TESTCASE, Marianne"));
    EXPECT_THAT(text, HasSubstr("RIGHT groin"));
    EXPECT_THAT(text, HasSubstr("T-004711"));
  }
}

TEST(SheetPdf, SameInputSameBytes) {
  const Pdf once = pdf_of_case(artery_and_vein()), again = pdf_of_case(artery_and_vein());
  EXPECT_EQ(once.bytes, again.bytes);
  auto fresh = Fonts::load(distribution_fonts());
  const Case c = artery_and_vein();
  const auto other = render(c.input(), std::get<Fonts>(fresh));
  EXPECT_EQ(std::get<Pdf>(other).bytes, once.bytes) << "what was drawn before leaves no trace";
}

TEST(SheetPdf, NamesCanBeSearchedAndCopied) {
  // Vocalised Arabic and Hebrew are left out: poppler's own reordering takes marks apart.
  for (const char* name : {"Nguyễn Thị Hồng", "Łukasiewicz, Żaneta", "Παπαδοπούλου Ελένη", "Щербакова Юлия", "İnönü Şükrü", "अनुष्का श्रीवास्तव", "สมชาย ใจดี", "王小明", "田中さくら", "김민수"}) {
    const Pdf pdf = pdf_of_case(named(name));
    EXPECT_TRUE(pdf.warnings.empty());
    EXPECT_THAT(text_of(pdf, "named"), HasSubstr(name));
  }
  EXPECT_THAT(text_of(pdf_of_case(named("عائشة بنت محمد")), "named"), HasSubstr("عائشة بنت محمد"));
  EXPECT_THAT(text_of(pdf_of_case(named("שרה כהן")), "named"), HasSubstr("שרה כהן"));
}

TEST(SheetPdf, NameWithALetterThatNoFontHasIsNotPrinted) {
  const Case c = named("Testcase \U000F0000");
  const SheetLines lines = lines_of(c.input(), fonts());
  EXPECT_EQ(lines.head.name, "record T-004711");
  EXPECT_THAT(lines.head.warning, HasSubstr("U+F0000"));
  const Pdf pdf = pdf_of_case(c);
  ASSERT_FALSE(pdf.warnings.empty());
  EXPECT_THAT(text_of(pdf, "unprintable"), HasSubstr("THE NAME CANNOT BE PRINTED HERE"));
  EXPECT_THAT(text_of(pdf, "unprintable"), testing::Not(HasSubstr("Testcase")));
}

TEST(SheetPdf, OtherTextShowsTheLetterAsItsNumber) {
  Case c = resting();
  c.plan.title = "Stent \U000F0000 invented";
  const Pdf pdf = pdf_of_case(c);
  EXPECT_THAT(pdf.warnings, testing::Contains(HasSubstr("U+F0000")));
  EXPECT_THAT(text_of(pdf, "odd-title"), HasSubstr("Stent [U+F0000] invented"));
}

TEST(SheetPdf, BrokenUtf8IsShownAndDoesNoHarm) {
  Case c = resting();
  c.plan.title = "Stent \xC3\x28 \xF0\x9F invented\n\x01";
  const Pdf pdf = pdf_of_case(c);
  EXPECT_THAT(text_of(pdf, "broken"), HasSubstr("[U+FFFD]"));
}

TEST(SheetFonts, WithoutTheFirstFontThereIsNoSheet) {
  const auto loaded = Fonts::load({{{"/nowhere/font.ttf", 0}}, {}});
  ASSERT_TRUE(std::holds_alternative<std::string>(loaded));
  EXPECT_THAT(std::get<std::string>(loaded), HasSubstr("fonts-noto-core"));
}

}  // namespace
}  // namespace sheet
