// What stands on a page: plain values in points (1/72 inch), x to the right, y DOWN from the upper edge. Shades: 0 black, 1 white.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace sheet {

enum class Weight { regular, bold };

struct Text {
  double x = 0, y = 0;  ///< start of the base line
  double size = 0;
  Weight weight = Weight::regular;
  std::string text;     ///< UTF-8, one line
  double shade = 0;
  double angle = 0;     ///< degrees, counter-clockwise
};

struct Bar {
  double x = 0, y = 0, width = 0, height = 0;  ///< x, y: upper left corner
  std::optional<double> fill = std::nullopt;   ///< shade
  double line = 0;                             ///< width of the frame; 0: none
  double hatch = 0;                            ///< distance of slanting lines; 0: none
};

struct Point {
  double x = 0, y = 0;
};

/// A line through the points, or with `curved` Bezier curves: a start, then three points for each.
struct Stroke {
  std::vector<Point> points;
  double line = 0.5;                          ///< 0: no line, only the fill
  std::optional<double> fill = std::nullopt;  ///< closes the figure
  bool curved = false;
  bool dashed = false;
  double shade = 0;
};

using Box = std::variant<Text, Bar, Stroke>;

struct Page {
  double width = 0, height = 0;
  std::vector<Box> boxes;  ///< drawn in this order
};

/// The same box, moved.
Box moved(Box, double dx, double dy);

}  // namespace sheet
