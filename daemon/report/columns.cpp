#include "report/columns.h"

#include <algorithm>
#include <numeric>

namespace report {
namespace {

constexpr std::size_t kGap = 2;

std::string without_trailing_spaces(std::string line) {
  line.erase(line.find_last_not_of(' ') + 1);
  return line;
}

}  // namespace

std::size_t width_of(std::string_view text) {
  return static_cast<std::size_t>(std::ranges::count_if(text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::vector<std::string> wrapped(std::string_view text, std::size_t width) {
  std::vector<std::string> lines{""};
  while (!text.empty()) {
    const auto end = std::min(text.find(' '), text.size());
    const auto word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    if (word.empty()) continue;
    if (!lines.back().empty() && width_of(lines.back()) + 1 + width_of(word) > width) lines.emplace_back();
    lines.back() += (lines.back().empty() ? "" : " ") + std::string(word);
  }
  return lines;
}

Columns::Columns(std::vector<std::size_t> widths, std::size_t indent) : widths_(std::move(widths)), indent_(indent) {
  const auto used = indent_ + std::accumulate(widths_.begin(), widths_.end(), std::size_t{0}) + kGap * widths_.size();
  widths_.push_back(kTerminalWidth > used ? kTerminalWidth - used : 1);
}

void Columns::add(const std::vector<std::string>& cells) {
  std::vector<std::vector<std::string>> columns;
  std::size_t height = 1;
  for (std::size_t i = 0; i < widths_.size(); ++i) {
    columns.push_back(wrapped(i < cells.size() ? cells[i] : std::string(), widths_[i]));
    height = std::max(height, columns.back().size());
  }
  for (std::size_t row = 0; row < height; ++row) {
    std::string line(indent_, ' ');
    for (std::size_t i = 0; i < columns.size(); ++i) {
      const std::string cell = row < columns[i].size() ? columns[i][row] : std::string();
      line += cell;
      if (i + 1 < columns.size()) line += std::string(widths_[i] > width_of(cell) ? widths_[i] - width_of(cell) + kGap : kGap, ' ');
    }
    text_ += without_trailing_spaces(std::move(line)) + '\n';
  }
}

std::string paragraph(std::string_view text, std::size_t indent) {
  std::string out;
  for (const auto& line : wrapped(text, kTerminalWidth - indent)) out += std::string(indent, ' ') + line + '\n';
  return out;
}

}  // namespace report
