// The HarfBuzz side of Fonts.
#pragma once

#include <hb-ot.h>
#include <hb.h>

#include <map>
#include <memory>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include "sheet/fonts.h"

namespace sheet {

struct FontRelease {
  void operator()(hb_font_t* font) const { hb_font_destroy(font); }
};
using Face = std::unique_ptr<hb_font_t, FontRelease>;

struct Fonts::Faces {
  std::vector<Face> faces;
  std::vector<int> regular, bold;  ///< places in `faces`, in order of preference
  mutable std::mutex mutex;        ///< of the outlines
  mutable std::map<std::pair<int, std::uint32_t>, std::string> outlines;

  const std::vector<int>& chain(Weight weight) const { return weight == Weight::bold ? bold : regular; }
  bool has(int face, char32_t letter) const {
    hb_codepoint_t glyph = 0;
    return hb_font_get_nominal_glyph(faces[static_cast<std::size_t>(face)].get(), letter, &glyph) != 0;
  }
};

/// Letters with the byte at which each starts; the byte after the last one stands at the end.
struct Letters {
  std::u32string text;
  std::vector<std::size_t> at;
};
Letters letters_of(std::string_view utf8);

/// Draws nothing of its own: joiners, direction marks, variation selectors.
bool is_invisible(char32_t);
bool is_mark(char32_t);

/// A stretch of letters in one face, script and direction.
struct Run {
  std::size_t begin = 0, end = 0;
  int level = 0;  ///< odd: right to left
  hb_script_t script = HB_SCRIPT_COMMON;
  int face = 0;
};
/// In the order in which they are drawn. `faces` says for each letter which face draws it.
std::vector<Run> runs_of(const std::u32string& text, const std::vector<int>& faces, Direction);

}  // namespace sheet
