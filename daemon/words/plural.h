// Which form of a sentence goes with a number.
#pragma once

#include <cstdint>
#include <string_view>

namespace words {

/// "zero", "one", "two", "few", "many" or "other" for the whole number n, by the language of the tag ("en-GB" counts as "en").
/// Rules: Unicode CLDR, plural rules for cardinal numbers, whole numbers only. A language that is not in the table is ruled as English.
std::string_view plural_form(std::string_view language, std::int64_t n);

bool is_plural_form(std::string_view name);

}  // namespace words
