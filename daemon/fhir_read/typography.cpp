#include "fhir_read/typography.h"

#include <algorithm>
#include <iterator>

namespace fhir_read {
namespace {

// One character of UTF-8 from `at` on, and how many bytes it takes; not UTF-8: the byte alone, as a value above Unicode.
struct Character {
  char32_t point;
  std::size_t bytes;
};
Character character_at(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const auto lead = byte(at);
  constexpr char32_t none = 0x110000;
  const std::size_t bytes = lead < 0x80 ? 1 : lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC2 ? 2 : 0;
  if (bytes == 1) return {lead, 1};
  if (bytes == 0 || at + bytes > text.size()) return {none, 1};
  char32_t point = lead & (0xFFU >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(at + i) & 0xC0U) != 0x80U) return {none, 1};
    point = point << 6U | (byte(at + i) & 0x3FU);
  }
  return {point, bytes};
}

void append(std::string& out, char32_t point) {
  const auto put = [&](char32_t byte) { out += static_cast<char>(static_cast<unsigned char>(byte)); };
  if (point < 0x80) return put(point);
  if (point < 0x800) return put(0xC0 | point >> 6U), put(0x80 | (point & 0x3F));
  put(0xE0 | point >> 12U), put(0x80 | (point >> 6U & 0x3F)), put(0x80 | (point & 0x3F));
}

// General punctuation and Latin-1 of the Unicode character database.
bool is_space(char32_t c) { return c == 0xA0 || (c >= 0x2000 && c <= 0x200A) || c == 0x202F || c == 0x205F || c == 0x3000 || c == 0x2028 || c == 0x1680; }
bool is_hyphen(char32_t c) { return (c >= 0x2010 && c <= 0x2015) || c == 0x2212 || c == 0xFE63 || c == 0xFF0D; }
bool is_apostrophe(char32_t c) { return c == 0x2018 || c == 0x2019 || c == 0x201B || c == 0x02BC || c == 0x2032 || c == 0xB4; }
bool is_nothing(char32_t c) {
  return c == 0xAD || (c >= 0x200B && c <= 0x200F) || (c >= 0x202A && c <= 0x202E) || (c >= 0x2060 && c <= 0x2064) || (c >= 0x2066 && c <= 0x2069) || c == 0xFEFF || c == 0x0640 || (c >= 0x064B && c <= 0x0652);
}

struct Composed {
  char32_t mark;
  std::u32string_view letters, composed;  // one behind the other
};
// Canonical compositions of the Unicode character database, of the letters of English, German, French, Spanish, Polish and Arabic.
constexpr Composed kComposed[] = {{0x0300, U"aeiouAEIOU", U"\u00E0\u00E8\u00EC\u00F2\u00F9\u00C0\u00C8\u00CC\u00D2\u00D9"},
                                  {0x0301, U"aeiouycnszAEIOUYCNSZ", U"\u00E1\u00E9\u00ED\u00F3\u00FA\u00FD\u0107\u0144\u015B\u017A\u00C1\u00C9\u00CD\u00D3\u00DA\u00DD\u0106\u0143\u015A\u0179"},
                                  {0x0302, U"aeiouAEIOU", U"\u00E2\u00EA\u00EE\u00F4\u00FB\u00C2\u00CA\u00CE\u00D4\u00DB"},
                                  {0x0303, U"anoANO", U"\u00E3\u00F1\u00F5\u00C3\u00D1\u00D5"},
                                  {0x0307, U"zZ", U"\u017C\u017B"},
                                  {0x0308, U"aeiouyAEIOU", U"\u00E4\u00EB\u00EF\u00F6\u00FC\u00FF\u00C4\u00CB\u00CF\u00D6\u00DC"},
                                  {0x030A, U"aA", U"\u00E5\u00C5"},
                                  {0x0327, U"cC", U"\u00E7\u00C7"},
                                  {0x0328, U"aeAE", U"\u0105\u0119\u0104\u0118"},
                                  {0x0653, U"\u0627", U"\u0622"},
                                  {0x0654, U"\u0627\u0648\u064A", U"\u0623\u0624\u0626"},
                                  {0x0655, U"\u0627", U"\u0625"}};

// The letter with its mark; 0: they make no letter of these languages.
char32_t composed_of(char32_t letter, char32_t mark) {
  const auto row = std::ranges::find(kComposed, mark, &Composed::mark);
  if (row == std::end(kComposed)) return 0;
  const auto at = row->letters.find(letter);
  return at == std::u32string_view::npos ? 0 : row->composed[at];
}

}  // namespace

std::string plain(std::string_view text) {
  if (std::ranges::all_of(text, [](char c) { return static_cast<unsigned char>(c) < 0x80; })) return std::string(text);
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    auto [point, bytes] = character_at(text, at);
    const auto here = at;
    at += bytes;
    if (point > 0xFFFF) {
      out += text.substr(here, bytes);
      continue;
    }
    if (is_nothing(point)) continue;
    for (bool more = true; more && at < text.size();) {  // accents behind it; a soft hyphen between them is none
      const auto next = character_at(text, at);
      const auto joined = composed_of(point, next.point);
      more = joined != 0;
      if (more) point = joined, at += next.bytes;
    }
    append(out, is_space(point) ? U' ' : is_hyphen(point) ? U'-' : is_apostrophe(point) ? U'\'' : point);
  }
  return out;
}

}  // namespace fhir_read
