#include <algorithm>

#include "sheet/place.h"

namespace sheet {
namespace {

using Style = Placer::Style;

constexpr double kPad = 2.5, kAbove = 1.2, kMarkRoom = 13, kHair = 0.4;
/// A row of more lines than this is broken over several strips.
constexpr std::size_t kLongestRow = 24, kWords = 8;

class SectionPlacer {
 public:
  SectionPlacer(const Section& section, const Layout& layout, Shaper& shaper, double x, double width)
      : section_(section), layout_(layout), shaper_(shaper), x_(x), width_(width) {}

  Strips place() {
    title();
    for (const auto& paragraph : section_.before) add_paragraph(paragraph);
    if (section_.table) {
      // A few words above a table stay with its first row, what is to be filled in below it with the last.
      if (strips_.size() <= kWords)
        for (auto& strip : strips_) strip.with_next = true;
      table(*section_.table);
      if (!section_.after.empty()) strips_.back().with_next = true;
    }
    for (const auto& paragraph : section_.after) {
      add_paragraph(paragraph);
      if (&paragraph != &section_.after.back()) strips_.back().with_next = true;
    }
    strips_.push_back({5, {}, false, {}, 0});
    return std::move(strips_);
  }

 private:
  void title() {
    Strip strip;
    Placer put(strip, layout_, shaper_);
    put.add(Bar{x_, 0, width_, 1.6, 0.0});
    double room = width_, lower = 3;
    if (!section_.answer.empty()) {
      const Style large{15, Weight::bold};
      put.text_to(x_ + width_, 2, section_.answer, large);
      room -= shaper_.width(section_.answer, Weight::bold, large.size) + 8;
      lower = 2 + Placer::line_height(large.size);
    }
    strip.height = std::max(lower, put.text(x_, 3, room, section_.title, {layout_.title, Weight::bold})) + 1;
    strip.with_next = true;
    strips_.push_back(std::move(strip));
  }

  void add_paragraph(const std::string& paragraph) {
    const double size = section_.large ? layout_.head + 1 : layout_.body;
    auto lines = shaper_.lines(paragraph, Weight::regular, size, width_);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      Strip strip;
      Placer put(strip, layout_, shaper_);
      const bool last = i + 1 == lines.size();
      strip.height = put.text(x_, 0, width_, lines[i], {size}) + (last ? 2.5 : 0);
      strip.with_next = !last && (i == 0 || i + 2 == lines.size());
      strips_.push_back(std::move(strip));
    }
  }

  void table(const Table& table) {
    double shares = 0;
    for (const auto& column : table.columns) shares += column.share;
    double at = x_;
    for (const auto& column : table.columns) {
      edges_.push_back(at);
      at += width_ * column.share / shares;
    }
    edges_.push_back(x_ + width_);
    Strip heads = header(table);
    const auto repeat = heads.boxes;
    const double height = heads.height;
    strips_.push_back(std::move(heads));
    for (const auto& r : table.rows) row(r, repeat, height);
  }

  double room(std::size_t column) const { return edges_[column + 1] - edges_[column] - 2 * kPad; }

  Strip header(const Table& table) {
    Strip strip;
    Placer put(strip, layout_, shaper_);
    for (std::size_t i = 0; i < table.columns.size(); ++i)
      strip.height = std::max(strip.height, put.text(edges_[i] + kPad, 1, room(i), table.columns[i].head, {layout_.note, Weight::bold}) + 1);
    put.add(Bar{x_, strip.height, width_, 0.8, 0.0});
    strip.height += 0.8;
    strip.with_next = true;
    return strip;
  }

  struct Line {
    std::string text;
    Style style;
  };
  std::vector<Line> lines_of(const Cell& cell, double room) {
    std::vector<Line> lines;
    const auto add = [&](const std::string& text, const Style& style) {
      if (!text.empty())
        for (auto& line : shaper_.lines(text, style.weight, style.size, room)) lines.push_back({std::move(line), style});
    };
    add(cell.text, {layout_.body, cell.strong ? Weight::bold : Weight::regular});
    add(cell.note, {layout_.note});
    return lines;
  }

  void row(const Row& row, const std::vector<Box>& repeat, double repeat_height) {
    std::vector<std::vector<Line>> cells;
    std::size_t most = 1;
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      cells.push_back(lines_of(row.cells[i], room(i) - (row.cells[i].mark == Mark::none ? 0 : kMarkRoom)));
      most = std::max(most, cells.back().size());
    }
    for (std::size_t from = 0; from < most; from += kLongestRow) strips_.push_back(row_part(row, cells, from, from + kLongestRow >= most, repeat, repeat_height));
  }

  Strip row_part(const Row& row, const std::vector<std::vector<Line>>& cells, std::size_t from, bool last, const std::vector<Box>& repeat, double repeat_height) {
    Strip strip;
    Placer put(strip, layout_, shaper_);
    bool by_hand = false;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const Cell& cell = row.cells[i];
      by_hand |= cell.write_in;
      double x = edges_[i] + kPad, y = kAbove;
      if (cell.mark != Mark::none) {
        if (from == 0) draw_mark(cell.mark, put, x, y + 1, 8);
        x += kMarkRoom;
      }
      for (std::size_t k = from; k < std::min(cells[i].size(), from + kLongestRow); ++k) y = put.text(x, y, 1e9, cells[i][k].text, cells[i][k].style);
      strip.height = std::max(strip.height, y + kAbove);
    }
    if (by_hand) strip.height = std::max(strip.height, layout_.write_in);
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (row.cells[i].write_in) put.add(Bar{edges_[i], 0, edges_[i + 1] - edges_[i], strip.height, {}, kHair});
    if (last) put.add(Bar{x_, strip.height - kHair, width_, kHair, 0.0});
    strip.repeat = repeat;
    strip.repeat_height = repeat_height;
    return strip;
  }

  const Section& section_;
  const Layout& layout_;
  Shaper& shaper_;
  double x_, width_;
  std::vector<double> edges_;
  Strips strips_;
};

Stroke circle(Point middle, double radius, double line, std::optional<double> fill) {
  const double k = radius * 0.5523;
  const auto [x, y] = middle;
  return {{{x + radius, y}, {x + radius, y + k}, {x + k, y + radius}, {x, y + radius}, {x - k, y + radius}, {x - radius, y + k}, {x - radius, y},
           {x - radius, y - k}, {x - k, y - radius}, {x, y - radius}, {x + k, y - radius}, {x + radius, y - k}, {x + radius, y}},
          line, fill, true, false, 0};
}

}  // namespace

Strips section_strips(const Section& section, const Layout& layout, Shaper& shaper, double x, double width) {
  return SectionPlacer(section, layout, shaper, x, width).place();
}

void draw_mark(Mark mark, Placer& put, double x, double y, double size) {
  const Point middle{x + size / 2, y + size / 2};
  const double r = size / 2;
  const Placer::Upright upright(put, x, size);
  switch (mark) {
    case Mark::none: return;
    case Mark::box: put.add(Bar{x, y, size, size, {}, 0.8}); return;
    case Mark::yes:
      put.add(Bar{x, y, size, size, {}, 0.8});
      put.add(Stroke{{{x + size * 0.18, y + size * 0.5}, {x + size * 0.42, y + size * 0.78}, {x + size * 0.85, y + size * 0.2}}, 1.3, {}, false, false, 0});
      return;
    case Mark::no:
      put.add(Bar{x, y, size, size, 0.0, 0.8});
      put.add(Stroke{{{x + size * 0.22, y + size * 0.22}, {x + size * 0.78, y + size * 0.78}}, 1.4, {}, false, false, 1});
      put.add(Stroke{{{x + size * 0.78, y + size * 0.22}, {x + size * 0.22, y + size * 0.78}}, 1.4, {}, false, false, 1});
      return;
    case Mark::unknown:
      put.add(Bar{x, y, size, size, {}, 0.8});
      put.centred(middle.x, y - 0.3, "?", {size * 0.9, Weight::bold});
      return;
    case Mark::done: put.add(circle(middle, r, 0.8, 0.0)); return;
    case Mark::due: put.add(Stroke{{{x, y}, {x + size, middle.y}, {x, y + size}}, 0.8, 0.0, false, false, 0}); return;
    case Mark::expected: put.add(circle(middle, r - 0.4, 0.9, 1.0)); return;
    case Mark::blocked:
      put.add(circle(middle, r - 0.4, 0.9, 1.0));
      put.add(Stroke{{{middle.x - r * 0.65, middle.y + r * 0.65}, {middle.x + r * 0.65, middle.y - r * 0.65}}, 0.9, {}, false, false, 0});
      return;
  }
}

}  // namespace sheet
