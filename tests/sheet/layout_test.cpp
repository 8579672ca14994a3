// The layouts as a hospital may write them: what is wrong is said with its place, and nothing can be left out of a sheet.
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "sheet/place.h"
#include "sheet_support.h"

namespace sheet {
namespace {

using testing::HasSubstr;

/// The shipped A4 with one text replaced.
LoadedLayout with(const std::string& from, const std::string& to) {
  std::ifstream shipped(SOURCE_DIR "/templates/layout/A4.toml");
  std::string text((std::istreambuf_iterator<char>(shipped)), {});
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  text.replace(at, from.size(), to);
  const std::filesystem::path folder = std::filesystem::temp_directory_path() / ("layout-test-" + std::to_string(getpid()));
  std::filesystem::create_directories(folder / "layout");
  std::ofstream(folder / "layout/A4.toml") << text;
  auto loaded = load_layout(folder, "A4");
  std::filesystem::remove_all(folder);
  return loaded;
}

void expect_fault(const LoadedLayout& loaded, const std::string& text) {
  EXPECT_FALSE(loaded.layout);
  ASSERT_FALSE(loaded.faults.empty()) << text;
  EXPECT_TRUE(std::ranges::any_of(loaded.faults, [&](const auto& fault) { return to_string(fault).find(text) != std::string::npos; })) << text << ", first: " << to_string(loaded.faults.front());
}

TEST(SheetLayout, TheShippedOnesAreRight) {
  for (const char* paper : {"A4", "Letter", "A5"}) {
    const auto loaded = load_layout(SOURCE_DIR "/templates", paper);
    for (const auto& fault : loaded.faults) ADD_FAILURE() << to_string(fault);
    ASSERT_TRUE(loaded.layout);
    EXPECT_EQ(loaded.layout->paper, paper);
  }
  // ISO 216: A4 is 210 x 297 mm, A5 148 x 210 mm; ANSI/ASME Y14.1: A is 8.5 x 11 in.
  EXPECT_NEAR(layout_named("A4").width, 210 / 25.4 * 72, 0.01);
  EXPECT_NEAR(layout_named("A4").height, 297 / 25.4 * 72, 0.01);
  EXPECT_NEAR(layout_named("A5").width, 148 / 25.4 * 72, 0.01);
  EXPECT_NEAR(layout_named("A5").height, 210 / 25.4 * 72, 0.01);
  EXPECT_EQ(layout_named("Letter").width, 8.5 * 72);
  EXPECT_EQ(layout_named("Letter").height, 11.0 * 72);
}

TEST(SheetLayout, NoBlockCanBeLeftOutOrDoubled) {
  expect_fault(with("\"checks\", ", ""), "the block 'checks' is missing");
  expect_fault(with("\"checks\", ", "\"checks\", \"checks\", "), "the block 'checks' stands twice");
  expect_fault(with("\"alerts\", ", "\"allerts\", "), "unknown block 'allerts'");
}

TEST(SheetLayout, NothingTooSmallToReadAtTheBed) {
  expect_fault(with("body = 8.5", "body = 6"), "'body' is 6: it cannot be read");
  expect_fault(with("small = 7 ", "small = 5 "), "'small' is 5");
  expect_fault(with("big-time = 40", "big-time = 12"), "'big-time' is 12");
}

TEST(SheetLayout, FaultsHaveTheirPlace) {
  const auto loaded = with("gutter = 14", "gutter = \"14\"");
  expect_fault(loaded, "A4.toml:8:10: 'gutter' is a string");
  expect_fault(with("gutter = 14", "guter = 14"), "unknown key 'guter'");
  expect_fault(with("{ left = [\"drugs\", \"cautions\"], right = [\"values\"] }", "{ left = [\"drugs\", \"cautions\", \"values\"] }"), "two columns need a left and a right one");
}

TEST(SheetLayout, APaperThatHasNoFileIsAFault) {
  const auto loaded = load_layout(SOURCE_DIR "/templates", "A3");
  EXPECT_FALSE(loaded.layout);
  EXPECT_FALSE(loaded.faults.empty());
}

TEST(SheetLayout, TheOrderIsTheFiles) {
  const auto loaded = with("[\"steps\", \"checks\", \"compression\", ", "[\"compression\", \"steps\", \"checks\", ");
  ASSERT_TRUE(loaded.layout);
  const Case c = waiting_for_act();
  Shaper shaper(fonts());
  const auto lines = lines_of(c.input(), fonts());
  const auto place_on = [&](const Layout& layout, const std::string& word) {
    double y = 0;
    for (const auto& page : place(lines, layout, shaper)) {
      for (const auto& box : page.boxes)
        if (const auto* text = std::get_if<Text>(&box); text && text->text == word) return y + text->y;
      y += page.height;
    }
    return -1.0;
  };
  EXPECT_LT(place_on(*loaded.layout, "Compression"), place_on(*loaded.layout, "Checks of groin and foot"));
  EXPECT_GT(place_on(layout_named("A4"), "Compression"), place_on(layout_named("A4"), "Checks of groin and foot"));
}

}  // namespace
}  // namespace sheet
