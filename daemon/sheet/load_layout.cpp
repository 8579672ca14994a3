#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <utility>

#include "sheet/layout.h"
#include "tables/document.h"

namespace sheet {
namespace {

using tables::Item;

constexpr std::array<std::pair<Block, std::string_view>, 17> kBlocks{{{Block::alerts, "alerts"}, {Block::punctures, "punctures"}, {Block::now, "now"},
    {Block::contradictions, "contradictions"}, {Block::unknown, "unknown"}, {Block::timeline, "timeline"}, {Block::gates, "gates"}, {Block::steps, "steps"},
    {Block::checks, "checks"}, {Block::compression, "compression"}, {Block::drugs, "drugs"}, {Block::cautions, "cautions"}, {Block::values, "values"},
    {Block::calls, "calls"}, {Block::local, "local"}, {Block::patient, "patient"}, {Block::reasons, "reasons"}}};

struct Length {
  std::string_view table, key;
  double Layout::*member;
  double least, most;
};
// The least sizes are those at which a tired reader at arm's length still reads (common practice, no source).
constexpr std::array kLengths{
    Length{"page", "width", &Layout::width, 280, 1300}, Length{"page", "height", &Layout::height, 400, 1700}, Length{"page", "margin", &Layout::margin, 12, 90},
    Length{"page", "gutter", &Layout::gutter, 6, 60}, Length{"page", "figure-share", &Layout::figure_share, 0.25, 0.45},
    Length{"page", "now-share", &Layout::now_share, 0.5, 0.75}, Length{"page", "write-in", &Layout::write_in, 14, 60},
    Length{"type", "body", &Layout::body, 8, 16}, Length{"type", "note", &Layout::note, 8, 14}, Length{"type", "small", &Layout::small, 7, 12},
    Length{"type", "head", &Layout::head, 9, 18}, Length{"type", "title", &Layout::title, 9, 20}, Length{"type", "name", &Layout::name, 14, 40},
    Length{"type", "side", &Layout::side, 16, 60}, Length{"type", "big-time", &Layout::big_time, 24, 80}, Length{"type", "big-act", &Layout::big_act, 12, 40},
    Length{"type", "plate", &Layout::plate, 10, 24}, Length{"codes", "module", &Layout::code_module, 1.0, 4}, Length{"codes", "bar", &Layout::bar_module, 0.75, 3}};

class LayoutReader {
 public:
  explicit LayoutReader(const tables::Document& document) : document_(document) { out_.faults = document.faults; }

  LoadedLayout read(std::string_view paper) {
    layout_.paper = paper;
    if (out_.faults.empty()) {
      for (const Item& table : document_.root.items)
        if (!read_table(table)) fault(table.key_at, fmt::format("unknown table '{}'", table.key), "write page, type, codes or blocks");
      for (const auto& length : kLengths)
        if (layout_.*length.member == 0) whole(fmt::format("'{}.{}' is missing", length.table, length.key), "give it a length in points");
      every_block_once();
      tables::sort_faults(out_.faults);
    }
    if (out_.faults.empty()) out_.layout = std::move(layout_);
    return std::move(out_);
  }

 private:
  void fault(tables::Place at, std::string text, std::string remedy) { out_.faults.push_back({document_.file, at.line, at.column, std::move(text), std::move(remedy)}); }
  void whole(std::string text, std::string remedy) { fault({}, std::move(text), std::move(remedy)); }

  bool read_table(const Item& table) {
    if (!table.is_table()) return false;
    if (table.key == "blocks") {
      for (const Item& item : table.items) read_blocks(item);
      return true;
    }
    if (table.key != "page" && table.key != "type" && table.key != "codes") return false;
    for (const Item& item : table.items) {
      const auto known = std::ranges::find_if(kLengths, [&](const Length& l) { return l.table == table.key && l.key == item.key; });
      if (known == kLengths.end()) fault(item.key_at, fmt::format("unknown key '{}'", item.key), "remove it or correct its name");
      else read_length(item, *known);
    }
    return true;
  }

  void read_length(const Item& item, const Length& length) {
    const auto value = item.kind == tables::Kind::number ? tables::millionths(item.text) : std::nullopt;
    if (!value) return fault(item.at, fmt::format("'{}' is {}", item.key, tables::name_of(item.kind)), "write a plain number of points");
    layout_.*length.member = static_cast<double>(*value) / 1e6;
    if (layout_.*length.member < length.least || layout_.*length.member > length.most)
      fault(item.at, fmt::format("'{}' is {}: it cannot be read, or does not fit", item.key, item.text), fmt::format("write {} to {}", length.least, length.most));
  }

  void read_blocks(const Item& item) {
    if (item.key == "front-without-gates") return names(item, layout_.front_without_gates, false);
    if (item.key != "front" && item.key != "back") return fault(item.key_at, fmt::format("unknown key '{}'", item.key), "write front, back or front-without-gates");
    if (item.kind != tables::Kind::array) return fault(item.at, fmt::format("'{}' is {}", item.key, tables::name_of(item.kind)), "write a list of blocks");
    auto& rows = item.key == "front" ? layout_.front : layout_.back;
    for (const Item& entry : item.items) {
      BlockRow row;
      if (entry.is_table()) {
        for (const Item& column : entry.items)
          if (column.key == "left" || column.key == "right") names(column, column.key == "left" ? row.left : row.right, true);
          else fault(column.key_at, fmt::format("unknown key '{}'", column.key), "write left and right");
        if (row.left.empty() || row.right.empty()) fault(entry.at, "two columns need a left and a right one", "give both, or name the block alone");
      } else {
        one(entry, row.left, true);
      }
      rows.push_back(std::move(row));
    }
  }

  void names(const Item& list, std::vector<Block>& to, bool counts) {
    if (list.kind != tables::Kind::array) return fault(list.at, fmt::format("'{}' is {}", list.key, tables::name_of(list.kind)), "write a list of blocks");
    for (const Item& entry : list.items) one(entry, to, counts);
  }

  void one(const Item& entry, std::vector<Block>& to, bool counts) {
    const auto known = std::ranges::find_if(kBlocks, [&](const auto& pair) { return entry.is_string() && pair.second == entry.text; });
    if (known == kBlocks.end()) {
      std::vector<std::string_view> all;
      for (const auto& [block, name] : kBlocks) all.push_back(name);
      return fault(entry.at, fmt::format("unknown block '{}'", entry.text), fmt::format("write one of {}", fmt::join(all, ", ")));
    }
    if (counts && std::ranges::find(seen_, known->first) != seen_.end()) fault(entry.at, fmt::format("the block '{}' stands twice", entry.text), "remove one of the two");
    if (counts) seen_.push_back(known->first);
    to.push_back(known->first);
  }

  void every_block_once() {
    for (const auto& [block, name] : kBlocks)
      if (std::ranges::find(seen_, block) == seen_.end()) whole(fmt::format("the block '{}' is missing", name), "add it to front or back: nothing may be left out of a sheet");
  }

  const tables::Document& document_;
  Layout layout_;
  std::vector<Block> seen_;
  LoadedLayout out_;
};

}  // namespace

std::string_view name_of(Block block) {
  return std::ranges::find_if(kBlocks, [&](const auto& pair) { return pair.first == block; })->second;
}

LoadedLayout load_layout(const std::filesystem::path& templates, std::string_view paper) {
  const auto document = tables::read_file(templates / "layout" / (std::string(paper) + ".toml"));
  return LayoutReader(document).read(paper);
}

}  // namespace sheet
