// What the words of an order do to the sheath or to bed rest, read by the word lists in profiles/terminology/procedures.toml. Low confidence, and one way only: words
// hold back and are shown, they permit nothing. Inside fhir_read only.
#pragma once

#include "fhir_read/terminology.h"

#include <optional>
#include <string>
#include <string_view>

namespace fhir_read {

// In the order of their strength: of several sentences the strongest counts.
enum class SheathWord {
  none,         // not about the sheath, or only about what is done while it is in or once it is out ("pulses every 15 min after sheath removal")
  named,        // about the sheath, and not whether it stays
  removal,      // plainly its removal
  conditional,  // its removal, or what comes before it, with words that were not understood: when, by whom, if what
  leave         // it stays
};

struct SheathSaying {
  SheathWord does = SheathWord::none;
  std::string sentence;          // the one that says so, as written; empty: none
  std::optional<int> act_below;  // seconds: the lowest activated clotting time that a sentence names as the limit
};
// Every sentence of a text that names a sheath. `of_a_removal`: the text stands in an order that is a removal by its code, so that "after review" is about the sheath
// without naming it.
SheathSaying sheath_saying(std::string_view text, const Terminology& terms, bool of_a_removal);

// "Nicht ziehen vor Rücksprache", "do not pull": a sentence of it denies a pull and names no other thing. As the title of an order it is about the sheath.
bool denies_a_removal(std::string_view text, const Terminology& terms);

// Lying flat, not getting up, "BR 12 h", getting up with a no or a not-before.
bool names_bed_rest(std::string_view text, const Terminology& terms);
// It says until when, or how long, in words of which no length was read: "until morning", "six hours", "until seen by a physician". `length_read`: a length was read in this text.
bool rest_end_unread(std::string_view text, const Terminology& terms, bool length_read);

}  // namespace fhir_read
