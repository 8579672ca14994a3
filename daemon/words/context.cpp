#include "words/context.h"

#include <stdexcept>
#include <string>

namespace words {

const date::time_zone* zone_named(std::string_view name) {
  try {
    return date::locate_zone(std::string{name});
  } catch (const std::runtime_error&) {  // the library's only way to say "no such zone"
    return nullptr;
  }
}

date::local_days local_day(clinical::Instant at, const date::time_zone* zone) {
  const auto local = zone ? zone->to_local(at) : date::local_seconds{at.time_since_epoch()};
  return date::floor<date::days>(local);
}

Context context_at(clinical::Instant at, const date::time_zone* zone) { return {zone, local_day(at, zone)}; }

}  // namespace words
