// How text is set makes no difference to what it says. The one place where that is put right before any words are matched.
#pragma once

#include <string>
#include <string_view>

namespace fhir_read {

// The same text with every kind of space as a space, every hyphen and dash as "-", every apostrophe as "'", letters and their accents as one character (Unicode NFC, of the
// letters of the six languages), and without soft hyphens, zero-width characters, marks of direction, the Arabic stretching and vowel marks. What is no UTF-8 stays as it is.
std::string plain(std::string_view text);

}  // namespace fhir_read
