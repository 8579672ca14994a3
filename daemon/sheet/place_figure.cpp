#include <algorithm>

#include "sheet/place.h"

namespace sheet {
namespace {

/// Draws in a box 100 wide and 150 high, the patient's right half on the left, and its mirror image.
class Body {
 public:
  Body(Placer& put, double x, double y, double scale) : put_(put), x_(x), y_(y), scale_(scale) {}

  Point at(double x, double y, bool mirrored) const { return {x_ + (mirrored ? 100 - x : x) * scale_, y_ + y * scale_}; }

  void curve(std::initializer_list<Point> points, double line, bool mirrored, std::optional<double> fill = std::nullopt) {
    Stroke stroke{{}, line, fill, true, false, 0};
    for (const Point& p : points) stroke.points.push_back(at(p.x, p.y, mirrored));
    put_.add(std::move(stroke));
  }
  void ring(Point middle, double radius, double line, bool mirrored, std::optional<double> fill) {
    const double k = radius * 0.5523;
    const auto [x, y] = middle;
    curve({{x + radius, y}, {x + radius, y + k}, {x + k, y + radius}, {x, y + radius}, {x - k, y + radius}, {x - radius, y + k}, {x - radius, y},
           {x - radius, y - k}, {x - k, y - radius}, {x, y - radius}, {x + k, y - radius}, {x + radius, y - k}, {x + radius, y}}, line, mirrored, fill);
  }

  // The whole half, closed along the middle, without its outline.
  void fill_half(bool mirrored, double shade) {
    curve({{50, 0}, {50, 0}, {29, 0}, {29, 0}, {29, 14}, {17, 26}, {17, 44}, {17, 66}, {26, 76}, {26, 92}, {24, 104}, {29, 120}, {31, 134}, {30, 139}, {24, 143}, {23, 146},
           {23, 149}, {38, 149}, {40, 146}, {41, 142}, {40, 138}, {40, 134}, {41, 118}, {45, 106}, {44, 92}, {47, 78}, {49, 66}, {50, 56}}, 0, mirrored, shade);
  }

  void half(bool mirrored, bool punctured) {
    fill_half(mirrored, punctured ? 0.8 : 1.0);
    curve({{29, 0}, {29, 14}, {17, 26}, {17, 44}, {17, 66}, {26, 76}, {26, 92}, {24, 104}, {29, 120}, {31, 134}, {30, 139}, {24, 143}, {23, 146},
           {23, 149}, {38, 149}, {40, 146}, {41, 142}, {40, 138}, {40, 134}, {41, 118}, {45, 106}, {44, 92}, {47, 78}, {49, 66}, {50, 56}}, 1.1, mirrored);
    curve({{20, 35}, {29, 42}, {39, 50}, {48, 55}}, 0.6, mirrored);
    ring({33, 143.5}, 2.2, 0.9, mirrored, 1.0);
    ring({40.5, 139}, 1.6, 0.9, mirrored, 1.0);
  }

 private:
  Placer& put_;
  double x_, y_, scale_;
};

// The artery lies outside of the vein on the crease of the groin.
Point place_of(clinical::Vessel vessel) { return vessel == clinical::Vessel::vein ? Point{42, 51} : Point{35, 46}; }

}  // namespace

void draw_figure(const Figure& figure, Placer& put, double x, double y, double width, double height) {
  const Placer::Style word{11, Weight::bold}, small{8};
  const Placer::Upright upright(put, x, width);  // the patient's right is on the left in every language
  const double caption = Placer::line_height(small.size);
  const double scale = std::min((height - caption) / 150, width * 0.55 / 100);
  const double left = x + (width - 100 * scale) / 2;
  Body body(put, left, y, scale);
  const auto punctured = [&](clinical::Side side) { return std::ranges::any_of(figure.spots, [&](const FigureSpot& s) { return s.side == side; }); };
  body.half(false, punctured(clinical::Side::right));
  body.half(true, punctured(clinical::Side::left));
  body.curve({{49, 22}, {49.3, 21}, {50.7, 21}, {51, 22}}, 0.8, false);
  put.text(x, y, width, figure.right, word);
  put.text_to(x + width, y, figure.left, word);
  put.centred(x + width / 2, y + height - caption, figure.caption, small);
  // Foot pulses, named once at each side.
  const auto pulse_words = put.shaper().lines(figure.foot_pulse, small.weight, small.size, std::max(24.0, left + 20 * scale - x - 8));
  const double pulse = y + 141 * scale - Placer::line_height(small.size) * (static_cast<double>(pulse_words.size()) - 0.5);
  body.ring({(x + 3 - left) / scale, 141}, 2.2, 0.9, false, 1.0);
  for (std::size_t i = 0; i < pulse_words.size(); ++i) put.text(x + 8, pulse + Placer::line_height(small.size) * static_cast<double>(i), 1e9, pulse_words[i], small);
  // Labels stand beside the hips, in as many lines as they need there.
  const Placer::Style label_style{9.5, Weight::bold};
  const double label_room = std::max(24.0, left + 14 * scale - x);
  int labels_right = 0, labels_left = 0;
  for (const auto& spot : figure.spots) {
    const bool unknown = spot.side == clinical::Side::unknown;
    for (const bool mirrored : {false, true}) {
      if (!unknown && mirrored != (spot.side == clinical::Side::left)) continue;
      const Point p = place_of(spot.vessel);
      if (unknown) {
        const Point at = body.at(p.x, p.y, mirrored);
        put.centred(at.x, at.y - 9, "?", {15, Weight::bold});
        continue;
      }
      body.ring(p, 5.2, 1.2, mirrored, 1.0);
      body.ring(p, 2.9, 0.5, mirrored, 0.0);
      int& row = mirrored ? labels_left : labels_right;
      const double label_y = y + 24 + row * 13;
      const auto label = put.shaper().lines(spot.label, label_style.weight, label_style.size, label_room);
      const Point from = body.at(p.x - 5.2, p.y, mirrored), to{mirrored ? x + width - 2 : x + 2, label_y + 11.5 * static_cast<double>(label.size())};
      put.add(Stroke{{from, {mirrored ? left + 100 * scale - 8 * scale : left + 8 * scale, to.y}, to}, 0.7, {}, false, false, 0});
      for (std::size_t i = 0; i < label.size(); ++i) {
        const double line_y = label_y + 11.5 * static_cast<double>(i);
        if (mirrored) put.text_to(x + width, line_y, label[i], label_style);
        else put.text(x, line_y, 1e9, label[i], label_style);
      }
      row += static_cast<int>(label.size());
    }
  }
}

}  // namespace sheet
