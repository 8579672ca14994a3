// Where and for which day sentences are printed.
#pragma once

#include <date/tz.h>

#include <optional>
#include <string_view>

#include "clinical/instant.h"

namespace words {

struct Context {
  const date::time_zone* zone = nullptr;  ///< null: UTC. Owned by the zone database, for the life of the program
  std::optional<date::local_days> day;    ///< the local day whose times are printed without a date; none: every time carries its date
};

/// Null when the database has no zone of that name.
const date::time_zone* zone_named(std::string_view name);
/// The local day of an instant; zone null is UTC.
date::local_days local_day(clinical::Instant, const date::time_zone* zone);
/// A context whose day is the local day of `at`.
Context context_at(clinical::Instant at, const date::time_zone* zone);

}  // namespace words
