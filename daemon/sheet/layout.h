// Paper and type sizes, in points. Body text is never smaller than 8, the foot never smaller than 7.
#pragma once

#include "sheet/sheet.h"

namespace sheet {

struct Layout {
  double width = 0, height = 0;
  double margin = 30;
  double gutter = 14;       ///< between two halves
  double body = 8.5, note = 8, small = 7;     ///< small: foot and nothing else
  double head = 10, title = 11;
  double name = 21, side = 26, big_time = 40, big_act = 16, plate = 13;
  double write_in = 17;     ///< height of a row for handwriting

  double left() const { return margin; }
  double right() const { return width - margin; }
  double room() const { return width - 2 * margin; }
};

inline Layout layout_for(Paper paper) {
  Layout layout;
  switch (paper) {
    case Paper::a4: layout.width = 595.28, layout.height = 841.89; break;
    case Paper::letter: layout.width = 612, layout.height = 792; break;
    case Paper::a5:
      layout.width = 419.53, layout.height = 595.28, layout.margin = 20;
      layout.name = 16, layout.side = 19, layout.big_time = 28, layout.big_act = 13, layout.plate = 11;
      break;
  }
  return layout;
}

}  // namespace sheet
