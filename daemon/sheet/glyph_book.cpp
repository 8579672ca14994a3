#include "sheet/glyph_book.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>

#include "sheet/font_faces.h"

namespace sheet {
namespace {

/// Collects the elements of a TJ operator and writes it when the font or the height changes.
class ShowingText {
 public:
  explicit ShowingText(double size) : size_(size) {}

  void glyph(GlyphBook::Place at, const Glyph& g, int own_width) {
    if (at.font != font_) {
      flush();
      fmt::format_to(std::back_inserter(out_), "/T{} {:.4g} Tf\n", at.font, size_);
      font_ = at.font;
    }
    if (g.y != rise_) {
      flush();
      fmt::format_to(std::back_inserter(out_), "{:.3f} Ts\n", g.y * size_ / 1000);
      rise_ = g.y;
    }
    if (g.x != pen_) {
      close_string();
      fmt::format_to(std::back_inserter(array_), "{}", pen_ - g.x);
      pen_ = g.x;
    }
    if (!open_) array_ += '<';
    open_ = true;
    fmt::format_to(std::back_inserter(array_), "{:02X}", at.code);
    pen_ += own_width;
  }

  std::string take() {
    flush();
    if (rise_ != 0) out_ += "0 Ts\n";
    return std::move(out_);
  }

 private:
  void close_string() {
    if (open_) array_ += '>';
    open_ = false;
  }
  void flush() {
    close_string();
    if (!array_.empty()) fmt::format_to(std::back_inserter(out_), "[{}]TJ\n", array_);
    array_.clear();
  }

  double size_;
  std::string out_, array_;
  int font_ = -1, rise_ = 0, pen_ = 0;
  bool open_ = false;
};

}  // namespace

GlyphBook::Place GlyphBook::place(const Glyph& glyph) {
  auto& codes = codes_[{glyph.face, glyph.id}];
  auto found = std::ranges::find_if(codes, [&](int code) { return entries_[static_cast<std::size_t>(code)].text == glyph.text; });
  if (found == codes.end()) {
    found = codes.insert(codes.end(), static_cast<int>(entries_.size()));
    entries_.push_back({glyph.face, glyph.id, glyph.width, glyph.text});
  }
  return {*found / 256, *found % 256};
}

std::string GlyphBook::show(const ShapedText& shaped, const std::string& text, const TextPlace& at) {
  ShowingText showing(at.size);
  for (const Glyph& glyph : shaped.glyphs) {
    const Place where = place(glyph);
    showing.glyph(where, glyph, entries_[static_cast<std::size_t>(where.font * 256 + where.code)].width);
  }
  std::string out = fmt::format("BT\n{:.3g} g\n", at.shade);
  const double turn = at.angle * std::numbers::pi / 180;
  if (at.angle == 0) fmt::format_to(std::back_inserter(out), "{:.2f} {:.2f} Td\n", at.x, at.y);
  else fmt::format_to(std::back_inserter(out), "{:.5f} {:.5f} {:.5f} {:.5f} {:.2f} {:.2f} Tm\n", std::cos(turn), std::sin(turn), -std::sin(turn), std::cos(turn), at.x, at.y);
  if (!shaped.plain) fmt::format_to(std::back_inserter(out), "/Span<</ActualText<FEFF{}>>>BDC\n", utf16_hex(text));
  out += showing.take();
  if (!shaped.plain) out += "EMC\n";
  return out + "ET\n";
}

std::string utf16_hex(std::string_view utf8) {
  std::string out;
  for (const char32_t c : letters_of(utf8).text) {
    const auto unit = static_cast<std::uint32_t>(c);
    if (unit >= 0x2066 && unit <= 0x2069) continue;
    if (unit < 0x10000) fmt::format_to(std::back_inserter(out), "{:04X}", unit);
    else fmt::format_to(std::back_inserter(out), "{:04X}{:04X}", 0xD800 + ((unit - 0x10000) >> 10U), 0xDC00 + ((unit - 0x10000) & 0x3FFU));
  }
  return out;
}

}  // namespace sheet
