// Pictures of one line of text: ours through PDF and poppler, and pango's of the same string from the same font files.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sheet/box.h"

namespace sheet {

struct Picture {
  int width = 0, height = 0;
  std::vector<unsigned char> dark;  ///< 1: ink

  bool at(int x, int y) const { return x >= 0 && y >= 0 && x < width && y < height && dark[static_cast<std::size_t>(y * width + x)] != 0; }
};

/// At 144 dots an inch, type of 40 points.
Picture drawn_by_us(const std::string& text, Weight);
Picture drawn_by_pango(const std::string& text, Weight);

/// Ink of one picture that has none of the other within `reach` dots, and the other way round.
int unmatched(const Picture&, const Picture&, int reach);
int ink(const Picture&);

}  // namespace sheet
