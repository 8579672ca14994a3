// Whole-word matching of names in free text. No substrings: "insulin protamine" must never read as protamine by accident.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

// Lower-case words of a text; everything that is no letter or digit separates ("Rt. CFA" -> rt, cfa). Bytes above ASCII count as letters,
// so that UTF-8 words stay whole; ASCII and the letters of Latin-1 and Latin Extended-A are lowered ("Ä", "Ł"), no others have a case that matters here.
std::vector<std::string> words_of(std::string_view text);

// True when the words of `phrase` stand one after the other in `words`. An empty phrase is nowhere.
bool has_phrase(const std::vector<std::string>& words, const std::vector<std::string>& phrase);

// A name of several words, with words that must not stand in the same text, or not close to it: among the three words before it, or as the last of the text at most two
// behind it ("dialysis: no"). `not_behind` counts only there ("dialysis refused", while "refused dialysis today" is said of somebody who has it).
struct Phrase {
  std::vector<std::string> words;
  std::vector<std::string> not_with;
  std::vector<std::string> not_near = {};
  std::vector<std::string> not_behind = {};
  enum class Match { no, yes, excluded };
  Match match(const std::vector<std::string>& text) const;
};

}  // namespace fhir_read
