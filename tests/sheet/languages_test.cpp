// Every shipped language says everything English says, fits on the paper, and a language written from the right stands as its readers expect.
#include <algorithm>

#include "sheet/place.h"
#include "sheet_support.h"

namespace sheet {
namespace {

using testing::HasSubstr;

Case in_language(Case c, const std::string& language) {
  c.language = language;
  return c;
}

std::vector<Page> placed(const Case& c) {
  Shaper shaper(fonts(), words_in(c.language).right_to_left() ? Direction::right_to_left : Direction::first_letter);
  return place(lines_of(c.input(), fonts()), layout_named(c.paper), shaper);
}

const Text& text_on(const Page& page, const std::string& words) {
  for (const auto& box : page.boxes)
    if (const auto* text = std::get_if<Text>(&box); text && text->text == words) return *text;
  ADD_FAILURE() << "not on the page: " << words;
  static const Text none;
  return none;
}

TEST(SheetLanguages, AreTheSixThatAreShipped) { EXPECT_THAT(languages(), testing::ElementsAre("en", "ar", "de", "es", "fr", "pl")); }

TEST(SheetLanguages, EachSaysAllThatEnglishSays) {
  for (const auto& language : languages())
    for (const auto& fault : words::compare(english(), words_in(language))) ADD_FAILURE() << to_string(fault);
}

TEST(SheetLanguages, EverySentenceOfASheetIsThere) {
  for (const auto& language : languages()) {
    const auto fresh = words::load_words(SOURCE_DIR "/templates", language).words;
    for (Case c : all_cases()) {
      SheetInput in{c.plan, clinical::cautious(), fresh, layout_named("A4"), words::context_at(c.as_of, nullptr)};
      in.as_of = c.as_of;
      in.void_reason = c.void_reason;
      lines_of(in, fonts());
    }
    EXPECT_THAT(fresh.missing(), testing::IsEmpty()) << language;
  }
}

TEST(SheetLanguages, NoLetterIsMissingInTheFonts) {
  for (const auto& language : languages())
    for (const Case& c : all_cases())
      for (const auto& text : texts_of(lines_of(in_language(c, language).input(), fonts()))) EXPECT_THAT(fonts().uncovered(text), testing::IsEmpty()) << language << ": " << text;
}

TEST(SheetLanguages, ATranslationSaysThatItIsToBeConfirmed) {
  for (const auto& language : languages()) {
    const auto lines = lines_of(in_language(resting(), language).input(), fonts());
    const std::string mark = words_in(language).label("sheet.translation");
    EXPECT_EQ(mark.empty(), language == "en") << language;
    if (!mark.empty()) {
      EXPECT_THAT(lines.foot.lines, testing::Contains(mark));
    }
  }
}

TEST(SheetLanguages, TheSameTimesInEachLanguage) {
  const auto times = [](const Case& c) {
    std::vector<std::string> found;
    for (const auto& text : texts_of(lines_of(c.input(), fonts())))
      for (std::size_t at = text.find(':'); at != std::string::npos; at = text.find(':', at + 1))
        if (at >= 2 && at + 2 < text.size() && std::isdigit(static_cast<unsigned char>(text[at - 2])) != 0 && std::isdigit(static_cast<unsigned char>(text[at + 1])) != 0)
          found.push_back(text.substr(at - 2, 5));
    std::ranges::sort(found);
    return found;
  };
  for (const auto& language : languages())
    for (const Case& c : all_cases()) EXPECT_EQ(times(in_language(c, language)), times(c)) << language << ' ' << c.name;
}

TEST(SheetRightToLeft, StandsAsInAMirrorButForPictures) {
  const Case c = in_language(waiting_for_act(), "ar");
  const auto lines = lines_of(c.input(), fonts());
  const auto pages = placed(c);
  const Layout& layout = layout_named("A4");
  Shaper shaper(fonts(), Direction::right_to_left);
  const auto right_edge = [&](const Text& text) { return text.x + shaper.width(text.text, text.weight, text.size); };
  EXPECT_NEAR(right_edge(text_on(pages[0], lines.head.name)), layout.right(), 0.01) << "the name begins at the right";
  EXPECT_NEAR(text_on(pages[0], lines.head.sheet).x, layout.left(), 0.01);
  EXPECT_GT(text_on(pages[0], lines.next.time).x, text_on(pages[0], lines.flat.time).x) << "what comes first is at the right";
  EXPECT_LT(text_on(pages[0], lines.figure.right).x, text_on(pages[0], lines.figure.left).x) << "the patient's right is at the left of the picture in every language";
  // Time runs from left to right as on the monitors of the ward.
  EXPECT_LT(text_on(pages[0], lines.timeline->ticks.front().second).x, text_on(pages[0], lines.timeline->ticks[2].second).x);
}

TEST(SheetRightToLeft, ValuesKeepTheirOrder) {
  const Case c = in_language(waiting_for_act(), "ar");
  std::string all;
  for (const auto& text : texts_of(lines_of(c.input(), fonts()))) all += text + "\n";
  EXPECT_THAT(all, HasSubstr("\u206680 kg\u2069")) << "a Latin unit stands apart";
  // Drawn: the digits of "80 kg" left of its unit.
  const auto shaped = fonts().shape("\u206680 kg\u2069", Weight::regular, Direction::right_to_left);
  ASSERT_EQ(shaped.glyphs.size(), 5U);
  EXPECT_EQ(shaped.glyphs.front().text, "8");
  EXPECT_EQ(shaped.glyphs.back().text, "g");
}

TEST(SheetRightToLeft, AnIsolateBrokenOverLinesStaysOne) {
  Shaper shaper(fonts(), Direction::right_to_left);
  const auto lines = shaper.lines("قبل \u2066one two three four five six\u2069 بعد", Weight::regular, 10, 60);
  ASSERT_GT(lines.size(), 2U);
  for (const auto& line : lines) {
    const auto count = [&](const char* mark) {
      std::size_t n = 0;
      for (auto at = line.find(mark); at != std::string::npos; at = line.find(mark, at + 1)) ++n;
      return n;
    };
    EXPECT_EQ(count("\u2066"), count("\u2069")) << line;
  }
}

TEST(SheetRightToLeft, WhatIsCopiedHasNoDirectionMarks) {
  const Pdf pdf = pdf_of_case(in_language(waiting_for_act(), "ar"));
  const std::string text = output_of("pdftotext " + scratch("ar.pdf", pdf.bytes) + " -");
  for (const char* mark : {"\u2066", "\u2067", "\u2068", "\u2069"}) EXPECT_EQ(text.find(mark), std::string::npos);
  EXPECT_THAT(text, HasSubstr("14:30"));
}

}  // namespace
}  // namespace sheet
