// From what a sheet says to where it stands.
#pragma once

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
  bool new_page = false;
  std::vector<Box> repeat;     ///< repeated at the top of a page that begins within this table
  double repeat_height = 0;
};
using Strips = std::vector<Strip>;

/// Places text and keeps the pen.
class Placer {
 public:
  Placer(Strip& strip, Shaper& shaper) : strip_(strip), shaper_(shaper) {}

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
  void add(Box box) { strip_.boxes.push_back(std::move(box)); }
  Shaper& shaper() { return shaper_; }
  static double line_height(double size) { return size * 1.22; }
  static double ascent(double size) { return size * 0.95; }

 private:
  Strip& strip_;
  Shaper& shaper_;
};

// place_front.cpp
Strip head_strip(const SheetLines&, const Layout&, Shaper&, std::size_t page, std::size_t pages);
Strip foot_strip(const SheetLines&, const Layout&, Shaper&);
Strips front_strips(const SheetLines&, const Layout&, Shaper&);
// place_figure.cpp
/// The drawn groin, its upper left corner at (x, y), this high.
void draw_figure(const Figure&, Placer&, double x, double y, double width, double height);
// place_timeline.cpp
Strips timeline_strips(const Timeline&, const Layout&, Shaper&);
// place_section.cpp
Strips section_strips(const Section&, const Layout&, Shaper&, double x, double width);
void draw_mark(Mark, Placer&, double x, double y, double size);

/// All pages with head, foot and the words across.
std::vector<Page> place(const SheetLines&, const Layout&, Shaper&);

}  // namespace sheet
