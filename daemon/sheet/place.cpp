#include "sheet/place.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace sheet {
namespace {

double height_of(const Strips& strips) {
  double sum = 0;
  for (const auto& strip : strips) sum += strip.height;
  return sum;
}

void append(Strips& to, Strips more) { std::ranges::move(more, std::back_inserter(to)); }

// Two halves as one strip.
Strip side_by_side(const Strips& a, const Strips& b) {
  Strip both;
  for (const auto* half : {&a, &b}) {
    double y = 0;
    for (const auto& strip : *half) {
      for (const auto& box : strip.boxes) both.boxes.push_back(moved(box, 0, y));
      y += strip.height;
    }
    both.height = std::max(both.height, y);
  }
  return both;
}

// The blocks of a column below each other.
Strips column(const std::vector<Block>& blocks, const SheetLines& lines, const Layout& layout, Shaper& shaper, double x, double width) {
  Strips strips;
  for (const Block block : blocks) append(strips, block_strips(block, lines, layout, shaper, x, width));
  return strips;
}

Strips row_strips(const BlockRow& row, const SheetLines& lines, const Layout& layout, Shaper& shaper, double page_room) {
  if (!row.right.empty()) {
    const double half = (layout.room() - layout.gutter) / 2;
    const Strips left = column(row.left, lines, layout, shaper, layout.left(), half), right = column(row.right, lines, layout, shaper, layout.left() + half + layout.gutter, half);
    if (!left.empty() && !right.empty() && std::max(height_of(left), height_of(right)) <= page_room) return {side_by_side(left, right)};
  }
  Strips strips = column(row.left, lines, layout, shaper, layout.left(), layout.room());
  append(strips, column(row.right, lines, layout, shaper, layout.left(), layout.room()));
  return strips;
}

// The front answers what now; what is turned to the back is written on, then what is looked up.
struct Sides {
  Strips front, back;
};
Sides both_sides(const SheetLines& lines, const Layout& layout, Shaper& shaper, double page_room) {
  const bool gates = std::ranges::any_of(lines.sections, [](const Section& s) { return s.block == Block::gates; });
  const auto comes_forward = [&](const BlockRow& row) { return !gates && row.right.empty() && std::ranges::find(layout.front_without_gates, row.left.front()) != layout.front_without_gates.end(); };
  Sides sides;
  for (const auto& row : layout.front) append(sides.front, row_strips(row, lines, layout, shaper, page_room));
  for (const auto& row : layout.back) append(comes_forward(row) ? sides.front : sides.back, row_strips(row, lines, layout, shaper, page_room));
  return sides;
}

Strips void_strips(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  Strips strips;
  const auto add = [&](auto&& draw) {
    Strip strip;
    Placer put(strip, layout, shaper);
    strip.height = draw(put);
    strips.push_back(std::move(strip));
  };
  add([&](Placer& put) {
    const double size = std::min(150.0, 150.0 * layout.room() / shaper.width(lines.void_title, Weight::bold, 150));
    put.centred(layout.width / 2, layout.margin, lines.void_title, {size, Weight::bold});
    return layout.margin + size * 1.3;
  });
  for (const auto& line : lines.void_lines) add([&](Placer& put) { return put.text(layout.left(), 0, layout.room(), line, {layout.side * 0.69, Weight::bold}) + 8; });
  return strips;
}

/// Stacks strips on pages.
class Stack {
 public:
  Stack(double top, double bottom) : top_(top), bottom_(bottom), y_(top) { pages_.emplace_back(); }

  void add(const Strips& strips) {
    for (std::size_t i = 0; i < strips.size(); ++i) {
      double needed = strips[i].height;
      for (std::size_t k = i; k + 1 < strips.size() && strips[k].with_next; ++k) needed += strips[k + 1].height;
      const bool empty_space = strips[i].boxes.empty();
      if (y_ + needed > bottom_ && y_ > top_ && !empty_space) break_before(strips[i]);
      put(strips[i].boxes, strips[i].height);
    }
  }
  /// The back begins on the second page; where the front has run over, it goes on there.
  void turn() {
    if (pages_.size() > 1 || y_ == top_) return;
    pages_.emplace_back();
    y_ = top_;
  }
  std::vector<std::vector<Box>> take() { return std::move(pages_); }

 private:
  void break_before(const Strip& strip) {
    pages_.emplace_back();
    y_ = top_;
    if (!strip.repeat.empty()) put(strip.repeat, strip.repeat_height);
  }
  void put(const std::vector<Box>& boxes, double height) {
    for (const auto& box : boxes) pages_.back().push_back(moved(box, 0, y_));
    y_ += height;
  }

  double top_, bottom_, y_;
  std::vector<std::vector<Box>> pages_;
};

// From the lower left to the upper right corner, behind everything.
void add_across(Page& page, const std::vector<std::string>& words, Shaper& shaper) {
  const double angle = std::atan2(page.height, page.width), length = std::hypot(page.width, page.height) * 0.72;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const double size = std::min(90.0, 90.0 * length / shaper.width(words[i], Weight::bold, 90));
    const double wide = shaper.width(words[i], Weight::bold, size), aside = (static_cast<double>(i) - static_cast<double>(words.size() - 1) / 2) * 105;
    const double x = page.width / 2 - wide / 2 * std::cos(angle) + aside * std::sin(angle) + size * 0.35 * std::sin(angle);
    const double y = page.height / 2 + wide / 2 * std::sin(angle) + aside * std::cos(angle) + size * 0.35 * std::cos(angle);
    page.boxes.push_back(Text{x, y, size, Weight::bold, words[i], 0.93, angle * 180 / std::numbers::pi});
  }
}

void add_at(Page& page, const Strip& strip, double y) {
  for (const auto& box : strip.boxes) page.boxes.push_back(moved(box, 0, y));
}

}  // namespace

std::vector<Page> place(const SheetLines& lines, const Layout& layout, Shaper& shaper) {
  const Strip foot = foot_strip(lines, layout, shaper);
  const double top = layout.margin + head_strip(lines, layout, shaper, 1, 9).height, bottom = layout.height - layout.margin - foot.height - 3;
  Stack stack(top, bottom);
  if (!lines.void_title.empty()) {
    stack.add(void_strips(lines, layout, shaper));
  } else {
    const Sides sides = both_sides(lines, layout, shaper, bottom - top);
    stack.add(sides.front);
    if (!sides.back.empty()) stack.turn();
    stack.add(sides.back);
  }
  const auto bodies = stack.take();
  std::vector<Page> pages;
  for (std::size_t i = 0; i < bodies.size(); ++i) {
    Page page{layout.width, layout.height, {}};
    add_across(page, lines.head.flags, shaper);
    add_at(page, head_strip(lines, layout, shaper, i + 1, bodies.size()), layout.margin);
    page.boxes.insert(page.boxes.end(), bodies[i].begin(), bodies[i].end());
    add_at(page, foot, layout.height - layout.margin - foot.height);
    pages.push_back(std::move(page));
  }
  return pages;
}

}  // namespace sheet
