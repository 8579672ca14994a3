// Pages of boxes as a PDF file, written with libharu.
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "clinical/instant.h"
#include "sheet/box.h"
#include "sheet/fonts.h"

namespace sheet {

/// Shapes each text once, for measuring and for drawing, all in one reading direction. One for a sheet; not for several threads at once.
class Shaper {
 public:
  explicit Shaper(const Fonts& fonts, Direction direction = Direction::first_letter) : fonts_(fonts), direction_(direction) {}
  const ShapedText& shaped(const std::string& text, Weight weight);
  /// In points.
  double width(const std::string& text, Weight weight, double size) { return shaped(text, weight).width * size / 1000; }
  /// Lines no wider than `room`: broken at spaces, between Han letters and kana, and inside a word only where it does not fit alone. At least one.
  std::vector<std::string> lines(const std::string& text, Weight weight, double size, double room);
  const Fonts& fonts() const { return fonts_; }
  Direction direction() const { return direction_; }
  /// Letters that no font has, met so far: they are drawn as "[U+1F600]".
  const std::set<std::string>& replaced() const { return replaced_; }

 private:
  const Fonts& fonts_;
  Direction direction_;
  std::map<std::string, ShapedText, std::less<>> regular_, bold_;
  std::set<std::string> replaced_;
};

struct PdfFault {
  std::string text;
};

/// The letters are outlines in a Type 3 font: one glyph procedure for each distinct glyph, so that no subsetter can lose a part of one (libharu 2.3
/// follows composite glyphs one level only) and every script is drawn as shaped. Each glyph tells the text it stands for (ToUnicode), and where glyphs and
/// letters do not run side by side the whole text stands beside them (ActualText): what is searched and copied is what was written.
/// Same pages, same title, same instant: same bytes.
std::variant<std::string, PdfFault> pdf_of(const std::vector<Page>&, Shaper&, std::string_view title, clinical::Instant created);

}  // namespace sheet
