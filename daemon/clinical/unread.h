// What a check says that nobody here can read, as a sentence says it.
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "clinical/plan.h"

namespace clinical {

/// at: when it was made; what: the findings that cannot be read, each once, by their names; said: their words as recorded, in the order of the record.
/// Of a check with such parts.
std::vector<std::pair<std::string, Argument>> unread_words(const SiteCheck&);

/// A check of which nobody recorded when it was made, as it counts: what is bad in it does, what is good does not, and it is unread (what: "time"; said: as recorded,
/// else which record it is). Its own time, where it has one, is that of writing.
SiteCheck of_unknown_time(SiteCheck);
/// True where it has no time, or only that of writing.
bool time_unknown(const SiteCheck&);

/// The name of a finding among the terms "finding.": its own code, or "other" where nobody here knows it.
std::string_view finding_term(std::string_view what);

/// The newest check with such a part that no later complete one has replaced; null: none.
const SiteCheck* unread_check(const std::vector<SiteCheck>& by_time);

}  // namespace clinical
