#include <algorithm>

#include "sheet/place.h"

namespace sheet {
namespace {

using Style = Placer::Style;

constexpr double kBarHeight = 20;  // of a bar code

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

// One plate beside the figure; several in two columns, each row of them a strip of its own.
Strips plates(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strips strips;
  const bool several = lines.plates.size() > 1;
  const double figure = layout.room() * layout.figure_share * (several ? 0.82 : 1), room = layout.room() - figure - layout.gutter;
  const double width = several ? (room - layout.gutter) / 2 : room, side = several ? layout.side * 0.72 : layout.side;
  for (std::size_t i = 0; i < lines.plates.size(); i += 2) {
    Strip strip;
    Placer put(strip, layout, shaper);
    strip.height = plate(lines.plates[i], layout, put, layout.left(), 0, width, side);
    if (i + 1 < lines.plates.size()) strip.height = std::max(strip.height, plate(lines.plates[i + 1], layout, put, layout.left() + width + layout.gutter, 0, width, side));
    if (i == 0) {
      strip.height = std::max(strip.height, figure * 0.64) + 2;
      draw_figure(lines.figure, put, layout.right() - figure, 0, figure, std::min(strip.height, figure));
    }
    strips.push_back(std::move(strip));
  }
  return strips;
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
  for (const auto& line : word.strong) y = put.text(x + 6, y, inner, line, {layout.head + 2, Weight::bold}) + 1;
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
  Placer put(strip, layout, shaper);
  const double left = (layout.room() - 8) * layout.now_share, right = layout.room() - 8 - left;
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
      Placer put(strip, layout, shaper);
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
  strips.push_back({6, {}, false, {}, 0});
  return strips;
}

std::string page_text(std::string pattern, std::size_t page, std::size_t pages) {
  for (const auto& [sign, number] : {std::pair{"#1", page}, {"#2", pages}})
    if (const auto at = pattern.find(sign); at != std::string::npos) pattern.replace(at, 2, std::to_string(number));
  return pattern;
}

}  // namespace

Point code_size(const Barcode& code, double module, double height) {
  const double quiet = code.quiet * module;
  return code.kind == CodeKind::code_128 ? Point{code.width * module + 2 * quiet, height} : Point{code.width * module + 2 * quiet, code.height * module + 2 * quiet};
}

Point draw_code(const Barcode& code, Placer& put, double x, double y, double module, double height) {
  const Point outer = code_size(code, module, height);
  const bool bars = code.kind == CodeKind::code_128;
  const double quiet = code.quiet * module, up = bars ? height : module, above = bars ? 0 : quiet;
  const Placer::Upright upright(put, x, outer.x);
  put.add(Bar{x, y, outer.x, outer.y, 1.0});  // white, also where a word stands across the page
  for (const auto& r : code.black) put.add(Bar{x + quiet + r.x * module, y + above + r.y * up, r.width * module, r.height * up, 0.0});
  return outer;
}

Strip head_strip(const SheetLines& lines, const Layout& layout, Shaper& shaper, std::size_t page, std::size_t pages) {
  Strip strip;
  Placer put(strip, layout, shaper);
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
  double right_end = y + 3 + 2 * Placer::line_height(layout.head);
  for (const auto& line : shaper.lines(lines.foot.use_before, Weight::bold, layout.head, side)) {
    put.text_to(layout.right(), right_end, line, {layout.head, Weight::bold});
    right_end += Placer::line_height(layout.head);
  }
  // A name of more than two lines stands smaller, but never small.
  const bool is_long = shaper.lines(head.name, Weight::bold, layout.name, room).size() > 2;
  y = put.text(layout.left(), y, room, head.name, {is_long ? layout.plate : layout.name, Weight::bold});
  if (!head.warning.empty()) y = put.text(layout.left(), y, room, head.warning, {layout.head, Weight::bold});
  std::string who;
  for (const auto& part : head.who) who += (who.empty() ? "" : "    ") + part;
  y = put.text(layout.left(), y, room, who, {layout.head + 1, Weight::bold});
  y = std::max(right_end, put.text(layout.left(), y + 1, room, head.procedure, {layout.body}));
  put.add(Bar{layout.left(), y + 3, layout.room(), 2.4, 0.0});
  strip.height = y + 11;
  return strip;
}

Strip foot_strip(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strip strip;
  Placer put(strip, layout, shaper);
  put.add(Bar{layout.left(), 0, layout.room(), 1.2, 0.0});
  double y = put.text(layout.left(), 3, layout.room(), lines.foot.bleeding, {layout.head, Weight::bold});
  put.add(Bar{layout.left(), y + 1, layout.room(), 0.4, 0.0});
  y += 2;
  // A bar code has a line of its own, codes with two dimensions stand beside the text.
  double right = layout.right(), lowest = y;
  const auto caption = [&](const Foot::Code& code, double x, Point size) { put.text(x, y + size.y, 1e9, code.caption, {layout.small}); };
  for (const auto& code : lines.foot.codes)
    if (code.code.kind == CodeKind::code_128) {
      const Point size = draw_code(code.code, put, layout.left(), y + 1, layout.bar_module, kBarHeight);
      put.text(layout.left() + size.x + 4, y + 1, 1e9, code.caption, {layout.small});
      y += size.y + 2;
    }
  for (const auto& code : lines.foot.codes)
    if (code.code.kind != CodeKind::code_128) {
      const Point outer = code_size(code.code, layout.code_module, 0);
      const double wide = std::max(outer.x, shaper.width(code.caption, Weight::regular, layout.small));
      right -= wide;
      draw_code(code.code, put, right, y + 1, layout.code_module, 0);
      caption(code, right, outer);
      lowest = std::max(lowest, y + outer.y + Placer::line_height(layout.small));
      right -= 6;
    }
  const double room = right - layout.left();
  y = put.text(layout.left(), y, room, lines.foot.use_before, {12, Weight::bold});
  for (const auto& line : lines.foot.lines) y = put.text(layout.left(), y, room, line, {layout.small});
  strip.height = std::max(lowest, put.text(layout.left(), y, room, lines.foot.honest, {layout.small, Weight::bold}));
  return strip;
}

Strips block_strips(Block block, const SheetLines& lines, const Layout& layout, Shaper& shaper, double x, double width) {
  Strips strips;
  const auto add = [&](Strips more) { std::ranges::move(more, std::back_inserter(strips)); };
  switch (block) {
    case Block::alerts:
    case Block::contradictions:
      for (const auto& alert : lines.alerts)
        if (alert.inverse == (block == Block::alerts)) add(callout(alert, layout, shaper));
      break;
    case Block::punctures: add(plates(lines, layout, shaper)); break;
    case Block::now: strips.push_back(big_words(lines, layout, shaper)); break;
    case Block::unknown:
      for (const auto& unknown : lines.unknown) add(callout(unknown, layout, shaper));
      break;
    case Block::timeline:
      if (lines.timeline) add(timeline_strips(*lines.timeline, layout, shaper));
      break;
    case Block::gates: case Block::steps: case Block::checks: case Block::compression: case Block::drugs: case Block::cautions: case Block::values: case Block::calls:
    case Block::local: case Block::patient: case Block::reasons:
      for (const auto& section : lines.sections)
        if (section.block == block) {
          Strips part = section_strips(section, layout, shaper, x, width);
          // The gates and who signs for them are read as one, and so is what the patient reads.
          if (block == Block::gates || block == Block::patient)
            for (std::size_t i = 0; i + 2 < part.size(); ++i) part[i].with_next = true;
          add(std::move(part));
        }
      break;
  }
  return strips;
}

}  // namespace sheet
