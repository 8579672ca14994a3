// The nightly comparison: everything the record shows about the patients of open cases beside everything that is held. Push and polling together should
// have brought it all; what they did not is taken up now, and said, because it will happen again.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "app/record_search.h"
#include "app/ways_to_ask.h"
#include "report/status.h"

namespace app {

/// The site's day and whether its hour has come: "2026-03-02" once the local time is `hour` or later, else the day before.
std::string reconciling_day(store::Millis now, const std::string& zone, int hour);

/// Facts of the patient ("Type/id", of types that are asked for) that the record's own searches did not bring. Only of types that were answered to the end.
std::vector<std::string> unseen(store::Store&, const std::string& patient, const SearchResult&, const WaysToAsk&);

/// Whether what is held of it happened after that day ("2026-02-01"); false where it does not say when.
bool dated_after(store::Store&, const std::string& type, const std::string& id, const std::string& day);

/// Whether a search by category, as `ways` asks now, had to bring what is held of it; `day`: on or after which it must have happened, where the search has a date.
bool of_a_category_asked(store::Store&, const std::string& type, const std::string& id, const WaysToAsk& ways, const std::string& day);

/// What facts held of the patient refer to and no search by patient brings (a Medication, a Location), "Type/id", where it is held.
std::vector<std::string> referred_to(store::Store&, const std::string& patient, const std::string& base_url);

/// What became of those when each was read by itself: 410 is a deletion and is taken up, a 404 withdraws nothing, and one that is there shows that the
/// searches hide it. Of types that are searched by date the last says nothing: it may be older than what was asked for.
struct OneByOne {
  std::size_t deleted = 0, absent = 0;
  std::vector<std::string> hidden;
};
OneByOne one_by_one(const std::vector<std::string>& asked, const SearchResult&, const WaysToAsk&);

}  // namespace app
