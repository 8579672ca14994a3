#include <algorithm>

#include "sheet/font_faces.h"
#include "sheet/pdf.h"

namespace sheet {
namespace {

// Han, kana, Hangul and full-width signs may stand at the end of any line.
bool breaks_anywhere(char32_t c) { return (c >= 0x2E80 && c <= 0xD7FF) || (c >= 0xF900 && c <= 0xFAFF) || (c >= 0xFF00 && c <= 0xFFEF) || (c >= 0x20000 && c <= 0x3FFFF); }

// A number and its unit stay on one line.
bool is_unit_after_number(const Letters& letters, std::size_t at) {
  constexpr std::u32string_view units[] = {U"mmHg", U"s", U"min", U"h", U"g/dL", U"g/L", U"mg/dL", U"kg", U"cm", U"mL/min", U"/min", U"F", U"%", U"U", U"IE", U"UI"};
  if (at < 2 || letters.text[at - 1] != U' ' || letters.text[at - 2] < U'0' || letters.text[at - 2] > U'9') return false;
  auto rest = std::u32string_view(letters.text).substr(at);
  rest = rest.substr(0, std::min(rest.size(), rest.find_first_of(U" .,;:)\u2069")));
  return std::ranges::find(units, rest) != std::end(units);
}

/// Pieces between which a line may end; each carries the spaces that follow it.
std::vector<std::string> pieces_of(const std::string& text) {
  const Letters letters = letters_of(text);
  std::vector<std::string> pieces;
  bool fresh = true;
  for (std::size_t i = 0; i < letters.text.size(); ++i) {
    const char32_t c = letters.text[i];
    const bool after_space = i > 0 && letters.text[i - 1] == ' ' && c != ' ' && !is_unit_after_number(letters, i);
    const bool loose = i > 0 && (breaks_anywhere(c) || breaks_anywhere(letters.text[i - 1])) && c != ' ' && !is_mark(c) && !is_invisible(c);
    if (fresh || after_space || loose) pieces.emplace_back();
    fresh = false;
    pieces.back() += text.substr(letters.at[i], letters.at[i + 1] - letters.at[i]);
  }
  return pieces;
}

std::string without_end_spaces(std::string text) {
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text;
}

// An isolate (U+2066 to U+2069, E2 81 A6 to A9) that is broken over lines ends with each of them and begins again on the next.
void close_isolates(std::vector<std::string>& lines) {
  constexpr std::string_view lead = "\xE2\x81", end = "\u2069";
  std::vector<std::string> open;
  for (auto& line : lines) {
    std::string begin;
    for (const auto& isolate : open) begin += isolate;
    for (std::size_t at = line.find(lead); at != std::string::npos; at = line.find(lead, at + 3)) {
      const auto last = static_cast<unsigned char>(line[at + 2]);
      if (last >= 0xA6 && last <= 0xA8) open.push_back(line.substr(at, 3));
      else if (last == 0xA9 && !open.empty()) open.pop_back();
    }
    line.insert(0, begin);
    for (std::size_t i = 0; i < open.size(); ++i) line += end;
  }
}

}  // namespace

const ShapedText& Shaper::shaped(const std::string& text, Weight weight) {
  auto& known = weight == Weight::bold ? bold_ : regular_;
  const auto found = known.find(text);
  if (found != known.end()) return found->second;
  if (std::ranges::all_of(text, [](char c) { return c >= ' ' && c <= '~'; })) return known.emplace(text, fonts_.shape(text, weight, direction_)).first->second;
  for (auto& letter : fonts_.uncovered(text)) replaced_.insert(std::move(letter));
  return known.emplace(text, fonts_.shape(fonts_.printable(text), weight, direction_)).first->second;
}

std::vector<std::string> Shaper::lines(const std::string& text, Weight weight, double size, double room) {
  if (width(text, weight, size) <= room) return {text};
  std::vector<std::string> lines{""};
  double used = 0;
  const auto start_line = [&] {
    lines.back() = without_end_spaces(lines.back());
    lines.emplace_back();
    used = 0;
  };
  // A number with its unit that is wider than the room is parted after all, before any word is.
  std::vector<std::string> pieces;
  for (std::string& piece : pieces_of(text)) {
    const auto space = piece.find(' ');
    const bool parted = space != std::string::npos && piece.find_first_not_of(' ', space) != std::string::npos && width(without_end_spaces(piece), weight, size) > room;
    if (parted) pieces.push_back(piece.substr(0, space + 1)), pieces.push_back(piece.substr(space + 1));
    else pieces.push_back(std::move(piece));
  }
  for (const std::string& piece : pieces) {
    const double wide = width(piece, weight, size), bare = width(without_end_spaces(piece), weight, size);
    if (used > 0 && used + bare > room) start_line();
    if (bare <= room) {
      lines.back() += piece;
      used += wide;
      continue;
    }
    // A word wider than the room: letter by letter, marks kept with their base.
    const Letters letters = letters_of(piece);
    for (std::size_t i = 0; i < letters.text.size();) {
      std::size_t end = i + 1;
      while (end < letters.text.size() && (is_mark(letters.text[end]) || is_invisible(letters.text[end]))) ++end;
      const std::string part = piece.substr(letters.at[i], letters.at[end] - letters.at[i]);
      const double more = width(part, weight, size);
      if (used > 0 && used + more > room) start_line();
      lines.back() += part;
      used += more;
      i = end;
    }
  }
  lines.back() = without_end_spaces(lines.back());
  if (lines.back().empty() && lines.size() > 1) lines.pop_back();
  close_isolates(lines);
  return lines;
}

}  // namespace sheet
