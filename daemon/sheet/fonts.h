// Letters from the distribution's fonts, shaped for every script. Lengths in thousandths of the type size.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "sheet/box.h"

namespace sheet {

struct FontFile {
  std::string path;
  unsigned index = 0;  ///< of a face in a collection (.ttc)
};

/// In order of preference: for each letter the first file that has it. Files that do not exist are left out; bold falls back to regular.
struct FontList {
  std::vector<FontFile> regular, bold;
};

/// What fonts-noto-core, fonts-noto-cjk and fonts-dejavu-core install on Debian.
FontList distribution_fonts();

struct Glyph {
  int face = 0;
  std::uint32_t id = 0;
  int x = 0, y = 0;    ///< where its origin stands, from the start of the line
  int width = 0;
  std::string text;    ///< UTF-8 of its cluster; empty: a further glyph of the cluster before it
};

/// Of the sentence around a text: it decides where commas, brackets and numbers between scripts stand (Unicode Standard Annex 9).
enum class Direction { first_letter, left_to_right, right_to_left };

/// A line of text as it is drawn, left to right.
struct ShapedText {
  std::vector<Glyph> glyphs;
  int width = 0;
  bool plain = true;  ///< the texts of the glyphs, one after the other, are the text: no reordering, no cluster of several glyphs
};

/// Read once, then never changed: safe to use from several threads. Copies share the files.
class Fonts {
 public:
  /// A sentence for people where the first file of the regular list cannot be read: without it there is no sheet.
  static std::variant<Fonts, std::string> load(const FontList&);

  /// Text of one line; what cannot be drawn is left out, so ask uncovered() first.
  ShapedText shape(std::string_view utf8, Weight, Direction = Direction::first_letter) const;
  /// Letters that no file has, each once: "U+1F600". Also what is no UTF-8 ("U+FFFD").
  std::vector<std::string> uncovered(std::string_view utf8) const;
  /// White space made plain spaces, control characters dropped, letters that no file has written as "[U+1F600]".
  std::string printable(std::string_view utf8) const;
  /// PDF operators that draw a glyph, 1000 units to the type size, starting with its width and box (d1); deflated (zlib), made once.
  const std::string& outline(int face, std::uint32_t id) const;

 private:
  struct Faces;
  explicit Fonts(std::shared_ptr<const Faces> faces) : faces_(std::move(faces)) {}
  std::shared_ptr<const Faces> faces_;
};

}  // namespace sheet
