#include <algorithm>

#include "sheet/place.h"
#include "sheet/say.h"

namespace sheet {
namespace {

using Style = Placer::Style;

constexpr double kTag = 16, kAxis = kTag + 13, kMark = 8, kLabelRow = 19, kCheck = 5;

class TimelinePlacer {
 public:
  TimelinePlacer(const Timeline& picture, const Layout& layout, Shaper& shaper) : picture_(picture), layout_(layout), shaper_(shaper) {}

  Strips place() {
    Strips strips;
    Strip strip;
    Placer put(strip, layout_, shaper_);
    put.add(Bar{layout_.left(), 0, layout_.room(), 1.6, 0.0});
    double y = 0;
    {
      const Placer::Upright upright(put, layout_.left(), layout_.room());  // time runs from left to right in every language, as on the monitor
      y = axis(put);
      for (const auto& lane : picture_.lanes) y = draw(lane, put, y);
      now_tag(put);
    }
    for (const auto& lane : picture_.lanes) y = later(lane, put, y);
    strip.height = legend(put, y + 3) + 5;
    strips.push_back(std::move(strip));
    return strips;
  }

 private:
  double x_of(Instant at) const {
    const double share = static_cast<double>((at - picture_.from).count()) / static_cast<double>((picture_.to - picture_.from).count());
    return layout_.left() + std::clamp(share, 0.0, 1.0) * layout_.room();
  }

  double axis(Placer& put) {
    double last = -100;
    for (const auto& [at, label] : picture_.ticks) {
      const double x = x_of(at), half = shaper_.width(label, Weight::regular, layout_.note) / 2;
      put.add(Stroke{{{x, kAxis - 3}, {x, kAxis}}, 0.6, {}, false, false, 0});
      if (x - half < last + 4 || x - half < layout_.left() || x + half > layout_.right()) continue;
      put.centred(x, kTag, label, {layout_.note});
      last = x + half;
    }
    put.add(Bar{layout_.left(), kAxis, layout_.room(), 0.6, 0.0});
    return kAxis + 2;
  }

  // Labels stand under the line, each in the first row where it has room.
  struct Rows {
    std::vector<double> ends;
    std::size_t take(double from, double to) {
      auto found = std::ranges::find_if(ends, [&](double end) { return end + 5 <= from; });
      if (found == ends.end()) found = ends.insert(ends.end(), 0);
      *found = to;
      return static_cast<std::size_t>(found - ends.begin());
    }
  };

  double label_width(const std::string& time, const std::string& label) {
    return std::max(shaper_.width(time, Weight::bold, 9.5), shaper_.width(label, Weight::regular, layout_.note));
  }
  void draw_label(Placer& put, double x, double y, const std::string& time, const std::string& label) {
    put.text(x, y, 1e9, time, {9.5, Weight::bold});
    put.text(x, y + 9.5, 1e9, label, {layout_.note});
  }

  double draw(const Timeline::Lane& lane, Placer& put, double y) {
    if (!lane.name.empty()) y = put.text(layout_.left(), y, layout_.room(), lane.name, {layout_.body, Weight::bold});
    const double line = y + 9;
    if (lane.band) put.add(Bar{x_of(lane.band->from), line - 7, x_of(lane.band->to) - x_of(lane.band->from), 14, {}, 0.5, 4});
    put.add(Bar{layout_.left(), line - 0.5, layout_.room(), 1, 0.0});
    for (const auto& [at, made] : lane.checks)
      put.add(Stroke{{{x_of(at), line - (made ? kCheck : 0)}, {x_of(at), line + kCheck}}, made ? 1.2 : 0.6, {}, false, false, 0});
    Rows rows;
    put.add(Bar{x_of(picture_.now) - 0.9, line - 10, 1.8, 18, 0.0});
    double bottom = line + 8;
    for (const auto& point : lane.points) {
      const double x = x_of(point.at), wide = label_width(point.time, point.label);
      const double from = std::clamp(x - wide / 2, layout_.left(), layout_.right() - wide);
      const double top = line + 8 + static_cast<double>(rows.take(from, from + wide)) * kLabelRow;
      if (top > line + 9) put.add(Stroke{{{x, line + 4}, {x, top + 1}}, 0.4, {}, false, true, 0});
      draw_label(put, from, top, point.time, point.label);
      draw_mark(point.mark, put, x - kMark / 2, line - kMark / 2, kMark);
      bottom = std::max(bottom, top + kLabelRow);
    }
    if (lane.band) {
      const double wide = shaper_.width(lane.band->label, Weight::bold, layout_.note);
      const double from = std::clamp((x_of(lane.band->from) + x_of(lane.band->to) - wide) / 2, layout_.left(), layout_.right() - wide);
      const double top = line + 8 + static_cast<double>(rows.take(from, from + wide)) * kLabelRow;
      put.text(from, top, layout_.room(), lane.band->label, {layout_.note, Weight::bold});
      bottom = std::max(bottom, top + 11);
    }
    return bottom + 2;
  }

  // What waits for haemostasis has no place on the clock: words in a frame, apart from it.
  double later(const Timeline::Lane& lane, Placer& put, double y) {
    if (lane.later.empty()) return y;
    std::string text = joined(lane.name, ": ", picture_.later_label) + ":";
    for (const auto& one : lane.later) text += "   " + one.time + "\u00a0" + one.label;
    const double top = y + 3, bottom = put.text(layout_.left() + 5, top + 2, layout_.room() - 10, text, {layout_.body, Weight::bold}) + 2;
    put.add(Bar{layout_.left(), top, layout_.room(), bottom - top, {}, 0.8});
    return bottom + 2;
  }

  double legend(Placer& put, double y) {
    double x = layout_.left();
    const auto place = [&](double wide) {
      if (x > layout_.left() && x + wide > layout_.right()) x = layout_.left(), y += 11;
    };
    for (const auto& [mark, word] : picture_.marks) {
      const double wide = 11 + shaper_.width(word, Weight::regular, layout_.note);
      place(wide);
      draw_mark(mark, put, x, y + 1.5, 7);
      put.text(x + 10, y, wide, word, {layout_.note});
      x += wide + 10;
    }
    place(shaper_.width(picture_.key, Weight::regular, layout_.note));
    return put.text(x, y, layout_.right() - x, picture_.key, {layout_.note});
  }

  void now_tag(Placer& put) {
    const double x = x_of(picture_.now), wide = shaper_.width(picture_.now_label, Weight::bold, 9) + 6;
    put.add(Bar{x - 0.9, 3, 1.8, kAxis - 3, 0.0});
    const double from = std::clamp(x - wide / 2, layout_.left(), layout_.right() - wide);
    put.add(Bar{from, 3, wide, 12, 0.0});
    put.text(from + 3, 3, wide, picture_.now_label, {9, Weight::bold, 1});
  }

  const Timeline& picture_;
  const Layout& layout_;
  Shaper& shaper_;
};

}  // namespace

Strips timeline_strips(const Timeline& picture, const Layout& layout, Shaper& shaper) { return TimelinePlacer(picture, layout, shaper).place(); }

}  // namespace sheet
