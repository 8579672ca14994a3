// The offset of a zone as it stands beside a time. Inside words only.
#pragma once

#include <string>

#include "words/context.h"

namespace words {

// Of the zone at that instant; zone null is UTC.
clinical::seconds offset_at(clinical::Instant at, const date::time_zone* zone);
// "UTC+1", "UTC-3:30", "UTC".
std::string offset_text(clinical::seconds offset);
// Whether the zone changes its offset on that local day: then every time of it carries its offset.
bool offset_changes(date::local_days day, const date::time_zone* zone);

}  // namespace words
