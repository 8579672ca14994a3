// Nothing is cut, dropped, shrunk or laid over something else, whatever the length of what is said.
#include <algorithm>
#include <sstream>

#include "sheet/place.h"
#include "sheet_support.h"

namespace sheet {
namespace {

struct Placed {
  SheetLines lines;
  std::vector<Page> pages;
};

Shaper shaper_for(const Case& c) { return Shaper(fonts(), words_in(c.language).right_to_left() ? Direction::right_to_left : Direction::first_letter); }

Placed placed(const Case& c) {
  Shaper shaper = shaper_for(c);
  Placed result{lines_of(c.input(), fonts()), {}};
  result.pages = place(result.lines, layout_named(c.paper), shaper);
  return result;
}

std::vector<Text> texts_on(const Page& page) {
  std::vector<Text> texts;
  for (const auto& box : page.boxes)
    if (const auto* text = std::get_if<Text>(&box); text && text->angle == 0) texts.push_back(*text);
  return texts;
}

std::string without_spaces(std::string text) {
  std::erase(text, ' ');
  return text;
}

std::vector<Case> on_every_paper() {
  std::vector<Case> cases;
  for (const char* paper : {"A4", "Letter", "A5"})
    for (Case c : all_cases()) {
      c.paper = paper;
      c.name += std::string(" ") + paper;
      cases.push_back(std::move(c));
    }
  for (const auto& language : languages())
    for (Case c : all_cases()) {
      if (language == "en") continue;
      c.language = language;
      c.paper = cases.size() % 2 == 0 ? "A4" : "A5";
      c.name += " " + c.paper + " in " + language;
      cases.push_back(std::move(c));
    }
  return cases;
}

TEST(SheetPlace, EveryWordStandsOnAPage) {
  for (const auto& c : on_every_paper()) {
    const auto [lines, pages] = placed(c);
    std::string all;
    for (const auto& page : pages)
      for (const auto& text : texts_on(page)) all += without_spaces(text.text);
    for (const auto& text : texts_of(lines)) {
      std::istringstream words(text);
      for (std::string word; words >> word;) EXPECT_NE(all.find(word), std::string::npos) << c.name << ": '" << word << "' of '" << text << "'";
    }
  }
}

TEST(SheetPlace, EverythingIsInsideThePage) {
  for (const auto& c : on_every_paper()) {
    const auto layout = layout_named(c.paper);
    Shaper shaper = shaper_for(c);
    for (const auto& page : placed(c).pages)
      for (const auto& text : texts_on(page)) {
        const double right = text.x + shaper.width(text.text, text.weight, text.size);
        EXPECT_GE(text.x, layout.margin - 0.5) << c.name << ": " << text.text;
        EXPECT_LE(right, layout.width - layout.margin + 0.5) << c.name << ": " << text.text;
        EXPECT_GE(text.y - text.size, layout.margin - 3) << c.name << ": " << text.text;
        EXPECT_LE(text.y, layout.height - layout.margin + 1) << c.name << ": " << text.text;
      }
  }
}

TEST(SheetPlace, NoTextLiesOverAnother) {
  for (const auto& c : on_every_paper()) {
    Shaper shaper = shaper_for(c);
    const auto pages = placed(c).pages;
    for (std::size_t n = 0; n < pages.size(); ++n) {
      auto texts = texts_on(pages[n]);
      for (std::size_t i = 0; i < texts.size(); ++i)
        for (std::size_t k = i + 1; k < texts.size(); ++k) {
          const auto &a = texts[i], &b = texts[k];
          const bool beside = a.x + shaper.width(a.text, a.weight, a.size) <= b.x + 0.5 || b.x + shaper.width(b.text, b.weight, b.size) <= a.x + 0.5;
          // Capitals and digits reach 0.72 of the size above the base line; descenders 0.22 below.
          const bool above = a.y + 0.1 * a.size <= b.y - 0.7 * b.size || b.y + 0.1 * b.size <= a.y - 0.7 * a.size;
          EXPECT_TRUE(beside || above) << c.name << " page " << n + 1 << ": '" << a.text << "' and '" << b.text << "'";
        }
    }
  }
}

TEST(SheetPlace, NothingIsTooSmallToRead) {
  for (const auto& c : on_every_paper()) {
    const auto layout = layout_named(c.paper);
    Shaper shaper = shaper_for(c);
    const auto [lines, pages] = placed(c);
    const double foot = layout.height - layout.margin - foot_strip(lines, layout, shaper).height;
    for (const auto& page : pages)
      for (const auto& text : texts_on(page)) EXPECT_GE(text.size, text.y > foot ? 7.0 : 7.2) << c.name << ": " << text.text;
    for (const auto& page : pages)
      for (const auto& text : texts_on(page))
        if (text.y < foot && text.text != "?") { EXPECT_GE(text.size, 8.0) << c.name << ": " << text.text; }
  }
}

TEST(SheetPlace, EveryPageSaysWhoseItIsAndWhichItIs) {
  const auto [lines, pages] = placed(overflowing());
  ASSERT_GT(pages.size(), 3U);
  for (std::size_t i = 0; i < pages.size(); ++i) {
    std::string all;
    for (const auto& text : texts_on(pages[i])) all += text.text + "\n";
    EXPECT_NE(all.find("Apollonia Maria Josepha"), std::string::npos);
    EXPECT_NE(all.find("page " + std::to_string(i + 1) + " of " + std::to_string(pages.size())), std::string::npos);
    EXPECT_NE(all.find("Do not use after"), std::string::npos);
    EXPECT_NE(all.find("If it bleeds"), std::string::npos);
  }
}

TEST(SheetPlace, TheFirstPageShowsSideAndNextAct) {
  for (const auto& c : all_cases()) {
    if (!c.void_reason.empty()) continue;
    const auto [lines, pages] = placed(c);
    std::string first;
    for (const auto& text : texts_on(pages[0])) first += without_spaces(text.text);
    EXPECT_NE(first.find(without_spaces(lines.plates[0].side)), std::string::npos) << c.name;
    EXPECT_NE(first.find(without_spaces(lines.next.time)), std::string::npos) << c.name;
    EXPECT_NE(first.find(without_spaces(lines.flat.time)), std::string::npos) << c.name;
  }
}

TEST(SheetPlace, NotApprovedStandsAcrossEveryPage) {
  for (const auto& page : placed(overflowing()).pages)
    EXPECT_TRUE(std::ranges::any_of(page.boxes, [](const Box& box) {
      const auto* text = std::get_if<Text>(&box);
      return text && text->angle > 0 && text->text == "NOT APPROVED";
    }));
}

TEST(SheetPlace, LongWordsAreBrokenAtLetters) {
  Shaper shaper(fonts());
  const std::string word(200, 'W');
  const auto lines = shaper.lines(word, Weight::regular, 10, 100);
  std::string all;
  for (const auto& line : lines) {
    EXPECT_LE(shaper.width(line, Weight::regular, 10), 100.01);
    all += line;
  }
  EXPECT_EQ(all, word);
  EXPECT_EQ(shaper.lines("王小明王小明王小明", Weight::regular, 10, 35).size(), 3U) << "Han letters stand at the end of any line";
}

}  // namespace
}  // namespace sheet
