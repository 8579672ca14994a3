// Age in completed years (UTC calendar; a birthday of 29 February falls on 1 March in other years).
#pragma once

#include "clinical/instant.h"

namespace clinical {

inline int years_between(Instant from, Instant to) {
  using namespace std::chrono;
  const year_month_day birth{floor<days>(from)}, day{floor<days>(to)};
  const int years = static_cast<int>(day.year()) - static_cast<int>(birth.year());
  return std::pair(day.month(), day.day()) < std::pair(birth.month(), birth.day()) ? years - 1 : years;
}
/// The least and the greatest age that a birth date of this precision allows.
inline int youngest_age(const Moment& birth, Instant on) { return years_between(birth.latest, on); }
inline int oldest_age(const Moment& birth, Instant on) { return years_between(birth.earliest, on); }

}  // namespace clinical
