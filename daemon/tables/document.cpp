#include "tables/document.h"

#define TOML_EXCEPTIONS 0
#define TOML_HEADER_ONLY 1
#define TOML_ENABLE_FORMATTERS 0
#include <toml++/toml.h>

#include <algorithm>
#include <fstream>
#include <iterator>

namespace tables {
namespace {

Place place_of(const toml::source_region& region) { return {static_cast<int>(region.begin.line), static_cast<int>(region.begin.column)}; }

/// The text, addressed by line and column in characters as toml++ counts them.
class Lines {
 public:
  explicit Lines(std::string_view text) : text_(text) {
    starts_.push_back(0);
    for (std::size_t i = 0; i < text.size(); ++i)
      if (text[i] == '\n') starts_.push_back(i + 1);
  }
  /// The run of characters that can belong to a number, a boolean or a date, from that place on.
  std::string word_at(Place at) const {
    std::size_t i = starts_[static_cast<std::size_t>(at.line - 1)];
    for (int column = 1; column < at.column && i < text_.size(); ++column) {
      ++i;
      while (i < text_.size() && (static_cast<unsigned char>(text_[i]) & 0xC0U) == 0x80U) ++i;
    }
    std::size_t end = i;
    while (end < text_.size() && text_.find_first_of(" \t\r\n,]}#", end) != end) ++end;
    return std::string{text_.substr(i, end - i)};
  }

 private:
  std::string_view text_;
  std::vector<std::size_t> starts_;
};

Kind kind_of(const toml::node& node) {
  if (node.is_table()) return Kind::table;
  if (node.is_array()) return Kind::array;
  if (node.is_string()) return Kind::string;
  if (node.is_number()) return Kind::number;
  return node.is_boolean() ? Kind::boolean : Kind::date_time;
}

bool stands_before(const Item& a, const Item& b) {
  return std::pair{a.key_at.line, a.key_at.column} < std::pair{b.key_at.line, b.key_at.column};
}

Item convert(const toml::node& node, const Lines& lines) {
  Item item;
  item.kind = kind_of(node);
  item.at = item.key_at = place_of(node.source());
  if (const auto* table = node.as_table()) {
    for (const auto& [key, value] : *table) {
      item.items.push_back(convert(value, lines));
      item.items.back().key = std::string{key.str()};
      item.items.back().key_at = place_of(key.source());
    }
    std::stable_sort(item.items.begin(), item.items.end(), stands_before);
  } else if (const auto* array = node.as_array()) {
    for (const auto& element : *array) item.items.push_back(convert(element, lines));
  } else if (const auto* string = node.as_string()) {
    item.text = string->get();
  } else {
    item.text = lines.word_at(item.at);
  }
  return item;
}

}  // namespace

std::string_view name_of(Kind kind) {
  constexpr std::string_view names[] = {"a table", "an array", "a string", "a number", "true or false", "a date-time"};
  return names[static_cast<std::size_t>(kind)];
}

const Item* Item::find(std::string_view name) const {
  const auto found = std::find_if(items.begin(), items.end(), [&](const Item& item) { return item.key == name; });
  return found == items.end() ? nullptr : &*found;
}

Document read_text(std::string text, std::string name) {
  Document document{std::move(name), std::move(text), {}, {}};
  const toml::parse_result result = toml::parse(std::string_view{document.bytes});
  if (!result) {
    const Place at = place_of(result.error().source());
    document.faults.push_back({document.file, at.line, at.column, std::string{result.error().description()},
                               "correct the TOML here; the rest of the file is read after that"});
    return document;
  }
  document.root = convert(result.table(), Lines{document.bytes});
  return document;
}

Document read_file(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in || std::filesystem::is_directory(path)) {
    Document document{path.string(), {}, {}, {}};
    document.faults.push_back({document.file, 0, 0, "the file cannot be read", "check that it exists and that this user may read it"});
    return document;
  }
  return read_text(std::string{std::istreambuf_iterator<char>{in}, {}}, path.string());
}

std::optional<long long> millionths(std::string_view digits) {
  const bool negative = digits.starts_with('-');
  if (negative || digits.starts_with('+')) digits.remove_prefix(1);
  const auto point = digits.find('.');
  const std::string_view whole = digits.substr(0, point);
  std::string_view part = point == std::string_view::npos ? std::string_view{} : digits.substr(point + 1);
  const auto only_digits = [](std::string_view s) { return !s.empty() && s.find_first_not_of("0123456789") == std::string_view::npos; };
  if (!only_digits(whole) || (point != std::string_view::npos && !only_digits(part))) return std::nullopt;
  while (part.ends_with('0')) part.remove_suffix(1);
  if (whole.size() > 12 || part.size() > 6) return std::nullopt;
  long long sum = 0;
  for (const char c : whole) sum = sum * 10 + (c - '0');
  for (std::size_t i = 0; i < 6; ++i) sum = sum * 10 + (i < part.size() ? part[i] - '0' : 0);
  return negative ? -sum : sum;
}

std::string decimal(long long micro) {
  const auto size = micro < 0 ? 0ULL - static_cast<unsigned long long>(micro) : static_cast<unsigned long long>(micro);
  std::string part = std::to_string(1'000'000ULL + size % 1'000'000ULL).substr(1);
  while (part.ends_with('0')) part.pop_back();
  return (micro < 0 ? "-" : "") + std::to_string(size / 1'000'000ULL) + (part.empty() ? "" : "." + part);
}

namespace {

/// Letters exchanged, left out, put in or swapped with their neighbour (optimal string alignment distance).
std::size_t slips(std::string_view a, std::string_view b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) {
    for (std::size_t j = 0; j <= b.size(); ++j) {
      if (i == 0 || j == 0) {
        d[i][j] = i + j;
        continue;
      }
      d[i][j] = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
    }
  }
  return d[a.size()][b.size()];
}

}  // namespace

std::string nearest(std::string_view name, const std::vector<std::string>& known) {
  const std::size_t last_part = name.size() - (name.rfind('.') + 1);
  std::size_t allowed = std::max<std::size_t>(1, last_part / 3);
  std::string best;
  for (const std::string& candidate : known) {
    const std::size_t distance = slips(name, candidate);
    if (distance > allowed || (!best.empty() && distance == allowed)) continue;
    best = candidate;
    allowed = distance;
  }
  return best;
}

}  // namespace tables
