// The glyphs of one PDF: each distinct one gets a code in a Type 3 font of up to 256.
#pragma once

#include <map>
#include <string>
#include <utility>
#include <vector>

#include "sheet/fonts.h"

namespace sheet {

class GlyphBook {
 public:
  /// Font (counted from 0) and code of a glyph.
  struct Place {
    int font = 0;
    int code = 0;
  };
  struct Entry {
    int face = 0;
    std::uint32_t id = 0;
    int width = 0;      ///< of the glyph procedure; a text may advance by more or less
    std::string text;
  };

  /// The same glyph that stands for another text is another entry: so every one says its own.
  Place place(const Glyph&);
  /// Text-showing operators for a shaped line, from BT to ET, its base line starting at (x, y) of the PDF's space.
  std::string show(const ShapedText&, const std::string& text, const struct TextPlace&);
  const std::vector<Entry>& entries() const { return entries_; }
  int fonts() const { return static_cast<int>((entries_.size() + 255) / 256); }

 private:
  std::map<std::pair<int, std::uint32_t>, std::vector<int>> codes_;  // face and glyph -> its entries, one for each text
  std::vector<Entry> entries_;
};

struct TextPlace {
  double x = 0, y = 0, size = 0, shade = 0, angle = 0;
};

/// UTF-16, big endian, as PDF hexadecimal digits; direction isolates (U+2066 to U+2069), which are of no use in a copied line, are left out.
std::string utf16_hex(std::string_view utf8);

}  // namespace sheet
