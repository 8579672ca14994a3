#include "fhir_read/phrase.h"

#include "fhir_read/typography.h"

#include <algorithm>

namespace fhir_read {
namespace {

// Both bytes of a capital letter of Latin-1 (C3 80 to C3 9E without the multiplication sign) or Latin Extended-A (U+0100 to U+017D: pairs, the capital first).
void lower_last_letter(std::string& word) {
  if (word.size() < 2) return;
  const auto lead = static_cast<unsigned char>(word[word.size() - 2]);
  const auto last = static_cast<unsigned char>(word.back());
  if (lead == 0xC3 && last >= 0x80 && last <= 0x9E && last != 0x97) word.back() = static_cast<char>(last + 0x20);
  if (lead != 0xC4 && lead != 0xC5) return;
  const unsigned point = (lead & 0x1FU) << 6U | (last & 0x3FU);
  const bool odd_capitals = (point >= 0x139 && point <= 0x148) || (point >= 0x179 && point <= 0x17E);
  const bool pairs = point != 0x130 && point != 0x131 && point != 0x138 && point != 0x149 && point != 0x178 && point != 0x17F;
  if (pairs && (point % 2 == 1) == odd_capitals && last != 0xBF) word.back() = static_cast<char>(last + 1);
}

bool found_in(const std::vector<std::string>& words, std::size_t from, std::size_t to, const std::vector<std::string>& looked_for) {
  for (auto i = from; i < std::min(to, words.size()); ++i)
    if (std::ranges::find(looked_for, words[i]) != looked_for.end()) return true;
  return false;
}

}  // namespace

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : plain(text)) {
    const auto byte = static_cast<unsigned char>(c);
    const bool upper = c >= 'A' && c <= 'Z';
    if (upper || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || byte >= 0x80) {
      word += upper ? static_cast<char>(c + ('a' - 'A')) : c;
      if (byte >= 0x80) lower_last_letter(word);
    } else if (!word.empty()) {
      words.push_back(std::move(word));
      word.clear();
    }
  }
  if (!word.empty()) words.push_back(std::move(word));
  return words;
}

bool has_phrase(const std::vector<std::string>& words, const std::vector<std::string>& phrase) {
  return !phrase.empty() && std::search(words.begin(), words.end(), phrase.begin(), phrase.end()) != words.end();
}

Phrase::Match Phrase::match(const std::vector<std::string>& text) const {
  if (!has_phrase(text, words)) return Match::no;
  const bool excluded = std::ranges::any_of(not_with, [&](const std::string& w) { return std::ranges::find(text, w) != text.end(); });
  if (excluded) return Match::excluded;
  if (not_near.empty() && not_behind.empty()) return Match::yes;
  constexpr std::ptrdiff_t before = 3, behind = 2;
  const bool at_the_end = found_in(text, text.size() - 1, text.size(), not_near) || found_in(text, text.size() - 1, text.size(), not_behind);
  for (auto at = text.begin();; ++at) {  // one place that nothing stands near is enough
    at = std::search(at, text.end(), words.begin(), words.end());
    if (at == text.end()) return Match::excluded;
    const auto here = at - text.begin(), from = std::max<std::ptrdiff_t>(0, here - before);
    const bool denied_behind = at_the_end && std::ssize(text) - here - std::ssize(words) <= behind;
    if (!denied_behind && !found_in(text, static_cast<std::size_t>(from), static_cast<std::size_t>(here), not_near)) return Match::yes;
  }
}

}  // namespace fhir_read
