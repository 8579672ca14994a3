// From what a sheet says to where it stands.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sheet/layout.h"
#include "sheet/lines.h"
#include "sheet/pdf.h"

namespace sheet {

/// A piece that is never broken over two pages; y of its boxes counts from its upper edge.
struct Strip {
  double height = 0;
  std::vector<Box> boxes;
  bool with_next = false;      ///< not the last on a page
  std::vector<Box> repeat;     ///< repeated at the top of a page that begins within this table
  double repeat_height = 0;
};
using Strips = std::vector<Strip>;

/// Places text and keeps the pen.
class Placer {
 public:
  Placer(Strip& strip, const Layout& layout, Shaper& shaper) : strip_(strip), page_(layout.width), shaper_(shaper) {}

  struct Style {
    double size = 8.5;
    Weight weight = Weight::regular;
    double shade = 0;
  };
  /// Lines from the upper edge `y` down, no wider than `room`; returns the lower edge.
  double text(double x, double y, double room, const std::string& text, const Style&);
  /// One line, ending at `right`.
  void text_to(double right, double y, const std::string& text, const Style&);
  void centred(double middle, double y, const std::string& text, const Style&);
  /// On a page written from the right every box stands as in a mirror; the letters themselves are never turned.
  void add(Box box);
  /// While this lives, what is drawn keeps its own left and right there too (a picture, a mark, a code): only its place, `width` from `x`, is mirrored.
  class Upright {
   public:
    Upright(Placer& placer, double x, double width);
    ~Upright() { placer_.shift_ = before_; }
    Upright(const Upright&) = delete;
    Upright& operator=(const Upright&) = delete;

   private:
    Placer& placer_;
    std::optional<double> before_;
  };
  Shaper& shaper() { return shaper_; }
  static double line_height(double size) { return size * 1.22; }
  static double ascent(double size) { return size * 0.95; }

 private:
  Strip& strip_;
  double page_;
  Shaper& shaper_;
  std::optional<double> shift_;  ///< how far what stands upright is moved
};

// place_front.cpp
Strip head_strip(const SheetLines&, const Layout&, Shaper&, std::size_t page, std::size_t pages);
Strip foot_strip(const SheetLines&, const Layout&, Shaper&);
/// One block; empty where it has nothing to say. `x` and `width` count for what can stand in a column, the rest takes the whole width.
Strips block_strips(Block, const SheetLines&, const Layout&, Shaper&, double x, double width);
// place_figure.cpp
/// The drawn groin, its upper left corner at (x, y), this high.
void draw_figure(const Figure&, Placer&, double x, double y, double width, double height);
// place_timeline.cpp
Strips timeline_strips(const Timeline&, const Layout&, Shaper&);
// place_section.cpp
Strips section_strips(const Section&, const Layout&, Shaper&, double x, double width);
void draw_mark(Mark, Placer&, double x, double y, double size);

/// Of a code with its quiet zone.
Point code_size(const Barcode&, double module, double height);
/// A code with its quiet zone, its outer upper left corner at (x, y), its elements `module` wide; `height` counts for a bar code only. Returns its outer size.
Point draw_code(const Barcode&, Placer&, double x, double y, double module, double height);

/// All pages with head, foot and the words across.
std::vector<Page> place(const SheetLines&, const Layout&, Shaper&);

}  // namespace sheet
