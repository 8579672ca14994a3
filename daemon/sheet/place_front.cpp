#include <algorithm>

#include "sheet/place.h"

namespace sheet {
namespace {

using Style = Placer::Style;

constexpr double kNextShare = 0.62;

double plate(const Plate& plate, const Layout& layout, Placer& put, double x, double y, double width, double side_size) {
  const Style side{side_size, Weight::bold, 1}, strong{layout.plate, Weight::bold}, plain{layout.body};
  const double lines = static_cast<double>(put.shaper().lines(plate.side, Weight::bold, side.size, width - 12).size());
  const double bar = lines * Placer::line_height(side.size) + 3;
  put.add(Bar{x, y, width, bar, 0.0});
  put.text(x + 6, y + 1, width - 12, plate.side, side);
  y = put.text(x, y + bar + 2, width, plate.size, strong);
  for (const auto& event : plate.events) y = put.text(x, y, width, event, strong);
  y = put.text(x, y, width, plate.state, strong) + 1;
  for (const auto& line : plate.more) y = put.text(x, y, width, line, plain);
  return y + 4;
}

// One plate beside the figure; several in two columns.
Strip plates(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strip strip;
  Placer put(strip, shaper);
  const bool several = lines.plates.size() > 1;
  const double figure = layout.room() * (several ? 0.28 : 0.34), room = layout.room() - figure - layout.gutter;
  const double width = several ? (room - layout.gutter) / 2 : room, side = several ? layout.side * 0.72 : layout.side;
  double top = 0, bottom = 0;
  for (std::size_t i = 0; i < lines.plates.size(); ++i) {
    const bool right = i % 2 == 1;
    if (!right) top = bottom;
    bottom = std::max(bottom, plate(lines.plates[i], layout, put, layout.left() + (right ? width + layout.gutter : 0), top, width, side));
  }
  strip.height = std::max(bottom, figure * 0.64) + 2;
  draw_figure(lines.figure, put, layout.right() - figure, 0, figure, std::min(strip.height, figure));
  return strip;
}

double big_word(const BigWord& word, const Layout& layout, Placer& put, double x, double width, double time_size) {
  const double inner = width - 12;
  double y = put.text(x + 6, 3, inner, word.caption, {layout.head, Weight::bold});
  y = put.text(x + 6, y - 1, inner, word.act, {layout.big_act, Weight::bold});
  if (!word.day.empty()) {
    const double after = x + 6 + put.shaper().width(word.time + " ", Weight::bold, time_size);
    put.text(after, y - 3 + Placer::ascent(time_size) - Placer::ascent(layout.big_act), 1e9, word.day, {layout.big_act, Weight::bold});
  }
  y = put.text(x + 6, y - 3, inner, word.time, {time_size, Weight::bold});
  return put.text(x + 6, y, inner, word.detail, {layout.body + 1}) + 4;
}

// The longest time a box can show in one line, at most as large as the layout says.
double time_size(const BigWord& word, const Layout& layout, Shaper& shaper, double width) {
  const double room = width - 12 - (word.day.empty() ? 0 : shaper.width(word.day, Weight::bold, layout.big_act));
  const double natural = shaper.width(word.time + (word.day.empty() ? "" : " "), Weight::bold, layout.big_time);
  return natural <= room ? layout.big_time : std::max(layout.big_act, layout.big_time * room / natural);
}

Strip big_words(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strip strip;
  Placer put(strip, shaper);
  const double left = (layout.room() - 8) * kNextShare, right = layout.room() - 8 - left;
  const double x = layout.left() + left + 8;
  double y = big_word(lines.next, layout, put, layout.left(), left, time_size(lines.next, layout, shaper, left));
  for (const auto& then : lines.then) y = put.text(layout.left() + 6, y - 1, left - 12, then, {layout.head + 2, Weight::bold}) + 1;
  y = std::max(y + 2, big_word(lines.flat, layout, put, x, right, time_size(lines.flat, layout, shaper, right)));
  put.add(Bar{layout.left(), 0, left, y, {}, 2});
  put.add(Bar{x, 0, right, y, {}, 2});
  strip.height = y + 6;
  return strip;
}

// In strips of one line each, so that the longest list goes on over the page.
Strips callout(const Callout& callout, const Layout& layout, Shaper& shaper) {
  Strips strips;
  const double x = layout.left() + 7, room = layout.room() - 14;
  const auto add = [&](const std::string& text, const Style& style) {
    for (const auto& line : shaper.lines(text, style.weight, style.size, room)) {
      Strip strip;
      Placer put(strip, shaper);
      const double high = Placer::line_height(style.size) + 1;
      if (callout.inverse) put.add(Bar{layout.left(), -0.2, layout.room(), high + 0.4, 0.0});
      else {
        put.add(Bar{layout.left(), 0, 3.5, high, 0.0});
        put.add(Bar{layout.right() - 3.5, 0, 3.5, high, 0.0});
      }
      put.text(x, 0.5, 1e9, line, {style.size, style.weight, callout.inverse ? 1.0 : 0.0});
      strip.height = high;
      strips.push_back(std::move(strip));
    }
  };
  add(callout.title, {15, Weight::bold});
  strips.front().with_next = true;
  for (const auto& item : callout.items) {
    add(item.text, {11, Weight::bold});
    if (!item.note.empty()) add(item.note, {layout.body});
  }
  if (!callout.inverse) {
    strips.front().boxes.insert(strips.front().boxes.begin(), Bar{layout.left(), -1.2, layout.room(), 1.2, 0.0});
    strips.back().boxes.push_back(Bar{layout.left(), strips.back().height, layout.room(), 1.2, 0.0});
  }
  strips.push_back({6, {}, false, false, {}, 0});
  return strips;
}

std::string page_text(std::string pattern, std::size_t page, std::size_t pages) {
  for (const auto& [sign, number] : {std::pair{"#1", page}, {"#2", pages}})
    if (const auto at = pattern.find(sign); at != std::string::npos) pattern.replace(at, 2, std::to_string(number));
  return pattern;
}

}  // namespace

Strip head_strip(const SheetLines& lines, const Layout& layout, Shaper& shaper, std::size_t page, std::size_t pages) {
  Strip strip;
  Placer put(strip, shaper);
  const Head& head = lines.head;
  const double side = 84, room = layout.room() - side - 6;
  double y = 0;
  if (!head.flags.empty()) {
    std::string flags;
    for (const auto& flag : head.flags) flags += (flags.empty() ? "" : "   /   ") + flag;
    const Style white{layout.head, Weight::bold, 1};
    const double high = static_cast<double>(shaper.lines(flags, Weight::bold, white.size, layout.room() - 10).size()) * Placer::line_height(white.size) + 3;
    put.add(Bar{layout.left(), 0, layout.room(), high, 0.0});
    put.text(layout.left() + 5, 1, layout.room() - 10, flags, white);
    y = high + 3;
  }
  put.text_to(layout.right(), y + 3, head.sheet, {layout.head, Weight::bold});
  put.text_to(layout.right(), y + 3 + Placer::line_height(layout.head), page_text(head.page, page, pages), {layout.head});
  // A name of more than two lines stands smaller, but never small.
  const bool is_long = shaper.lines(head.name, Weight::bold, layout.name, room).size() > 2;
  y = put.text(layout.left(), y, room, head.name, {is_long ? layout.plate : layout.name, Weight::bold});
  if (!head.warning.empty()) y = put.text(layout.left(), y, room, head.warning, {layout.head, Weight::bold});
  std::string who;
  for (const auto& part : head.who) who += (who.empty() ? "" : "    ") + part;
  y = put.text(layout.left(), y, room, who, {layout.head + 1, Weight::bold});
  y = put.text(layout.left(), y + 1, room, head.procedure, {layout.body});
  put.add(Bar{layout.left(), y + 3, layout.room(), 2.4, 0.0});
  strip.height = y + 11;
  return strip;
}

Strip foot_strip(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strip strip;
  Placer put(strip, shaper);
  put.add(Bar{layout.left(), 0, layout.room(), 1.2, 0.0});
  double y = put.text(layout.left(), 3, layout.room(), lines.foot.bleeding, {layout.head, Weight::bold});
  put.add(Bar{layout.left(), y + 1, layout.room(), 0.4, 0.0});
  y = put.text(layout.left(), y + 2, layout.room(), lines.foot.use_before, {12, Weight::bold});
  for (const auto& line : lines.foot.lines) y = put.text(layout.left(), y, layout.room(), line, {layout.small});
  strip.height = put.text(layout.left(), y, layout.room(), lines.foot.honest, {layout.small, Weight::bold});
  return strip;
}

Strips front_strips(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strips strips;
  const auto add = [&](Strips more) { std::ranges::move(more, std::back_inserter(strips)); };
  for (const auto& alert : lines.alerts)
    if (alert.inverse) add(callout(alert, layout, shaper));
  strips.push_back(plates(lines, layout, shaper));
  strips.push_back(big_words(lines, layout, shaper));
  for (const auto& alert : lines.alerts)
    if (!alert.inverse) add(callout(alert, layout, shaper));
  for (const auto& unknown : lines.unknown) add(callout(unknown, layout, shaper));
  if (lines.timeline) add(timeline_strips(*lines.timeline, layout, shaper));
  return strips;
}

}  // namespace sheet
