// A measured value in its canonical unit, as millionths: exact to compare, the same bytes everywhere.
#pragma once

#include <cstdint>
#include <string>

namespace clinical {

using Micro = std::int64_t;
constexpr Micro kMicro = 1'000'000;
constexpr Micro whole(std::int64_t n) { return n * kMicro; }

/// less: the true value is < micro (open interval); at_most: <=; at_least: >=; greater: >. An open interval is never "the" value.
enum class Comparator { none, less, at_most, at_least, greater };

struct Value {
  Micro micro = 0;
  Comparator comparator = Comparator::none;
  std::string written;  ///< digits and unit as the source wrote them, for people: "290 s", ">400 s"

  bool exact() const { return comparator == Comparator::none; }
  /// Certainly below `limit`. A value that merely might be below answers false.
  bool surely_below(Micro limit) const {
    switch (comparator) {
      case Comparator::none: return micro < limit;
      case Comparator::less: return micro <= limit;
      case Comparator::at_most: return micro < limit;
      default: return false;
    }
  }
  /// Certainly at or above `limit`.
  bool surely_at_least(Micro limit) const {
    switch (comparator) {
      case Comparator::none: case Comparator::at_least: case Comparator::greater: return micro >= limit;
      default: return false;
    }
  }
  friend bool operator==(const Value&, const Value&) = default;
};

}  // namespace clinical
