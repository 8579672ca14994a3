#include "fhir_read/phrase.h"

#include <algorithm>

namespace fhir_read {

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> words;
  std::string word;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    const bool upper = c >= 'A' && c <= 'Z';
    if (upper || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || byte >= 0x80) {
      word += upper ? static_cast<char>(c + ('a' - 'A')) : c;
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
  return excluded ? Match::excluded : Match::yes;
}

}  // namespace fhir_read
