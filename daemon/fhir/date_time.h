// FHIR date, dateTime and instant: text with precision and offset -> an interval of UTC seconds, and back.
#pragma once

#include <boost/system/result.hpp>

#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace date {
class time_zone;
}

namespace fhir {

using Instant = std::chrono::sys_seconds;

// A zone of the tz database ("Europe/Berlin"); nullptr when unknown or when the machine has no database. Owned by the database.
const date::time_zone* find_zone(const std::string& name);

enum class Precision { year, month, day, minute, second };

// Both ends inclusive, UTC. A full dateTime has earliest == latest.
struct TimeSpan {
  Instant earliest{};
  Instant latest{};
  Precision precision = Precision::second;
  bool zone_assumed = false;  // the text had no offset; the site's zone was taken
  bool ambiguous = false;     // ... and that hour occurs twice (autumn): earliest and latest are the two readings
  bool irregular = false;     // not the lexical form of FHIR (no seconds, a space for T), yet clear
  bool exact() const { return earliest == latest; }
  friend bool operator==(const TimeSpan&, const TimeSpan&) = default;
};

enum class TimeFault { not_a_time, no_zone, skipped_hour };

// What to do with a time that has no offset, and where a day begins. With zone == nullptr a partial date spans every zone of the earth.
struct ZoneRule {
  const date::time_zone* zone = nullptr;
  bool assume_for_times = false;  // false: a time without offset is TimeFault::no_zone
};

// Partial dates span the whole day, month or year and never become midnight. Fractions of a second are cut off. Second 60 is the next
// second. A time without seconds spans its minute. skipped_hour: the local time does not exist in the assumed zone (spring).
boost::system::result<TimeSpan, TimeFault> read_time(std::string_view text, const ZoneRule& rule = {});

// "1958-04-11", "1958-04", "1958" as UTC days, for birth dates, whose zone nobody means. nullopt for anything else.
std::optional<TimeSpan> read_utc_date(std::string_view text);

std::string format_utc(Instant at);                                  // "2026-03-02T14:00:00Z"
std::string format_in(Instant at, const date::time_zone& zone);      // "2026-03-02T15:00:00+01:00"
std::string format_local(Instant at, const date::time_zone& zone);   // "2026-03-02 15:00"

}  // namespace fhir
