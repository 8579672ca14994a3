// The newest value of one test. A newer result without a value hides an older one: unknown is never normal.
#pragma once

#include <functional>
#include <vector>

#include "clinical/evidence.h"
#include "clinical/plan.h"

namespace clinical {

enum class Worse { higher, lower };

/// The draws that may be the newest: one, or several drawn at the same instant or at a time only known as a span. Never empty.
struct Newest {
  std::vector<const Measurement*> draws;
  Instant drawn{};                       ///< when the newest was surely drawn or earlier: freshness counts from here
  const Measurement* shown = nullptr;    ///< the worst of those with a value; where none has one, any of them

  bool has_value() const { return all([](const Value&) { return true; }); }  ///< every one of them
  const Value& value() const { return *shown->value; }
  Argument when() const { return clinical::when(*shown->at); }  ///< of the one that is shown, for a sentence
  /// Every draw has a value and it is so / some draw has a value and it is so.
  bool all(const std::function<bool(const Value&)>&) const;
  bool any(const std::function<bool(const Value&)>&) const;
  std::vector<Source> sources() const;
};

std::optional<Newest> newest_of(MeasurementIndex::Measurements, Worse);
std::optional<Newest> newest(const Evidence&, Analyte, Worse);

}  // namespace clinical
