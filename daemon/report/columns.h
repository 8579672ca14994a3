// Text in columns for a terminal: UTF-8, widths counted in code points, long cells wrapped at spaces.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace report {

constexpr std::size_t kTerminalWidth = 100;

/// Code points; combining marks and wide characters count as one.
std::size_t width_of(std::string_view);

/// Lines of at most `width`; a word that is longer stands alone. Always at least one line.
std::vector<std::string> wrapped(std::string_view, std::size_t width);

/// Rows of cells under fixed widths, two spaces apart; the last column takes the rest of the terminal's width. Trailing spaces are cut.
class Columns {
 public:
  explicit Columns(std::vector<std::size_t> widths, std::size_t indent = 0);
  void add(const std::vector<std::string>& cells);
  std::string take() { return std::move(text_); }

 private:
  std::vector<std::size_t> widths_;
  std::size_t indent_;
  std::string text_;
};

/// One paragraph, wrapped, each line indented; ends with a line feed.
std::string paragraph(std::string_view text, std::size_t indent);

}  // namespace report
