// How long an order says, in whole minutes rounded up. Of several lengths the longest counts. Inside fhir_read only.
#pragma once

#include "clinical/instant.h"
#include "fhir_read/reading.h"

#include <initializer_list>
#include <optional>
#include <string_view>

namespace fhir_read {

using Length = std::optional<clinical::minutes>;

// A Duration or Quantity of time; none without an issue when absent, with one when it is no time.
Length length_of(const json::Value& quantity, const Resource& r, std::string_view path, Reading& reading);
// Timing.repeat: duration or durationMax with durationUnit.
Length length_of_repeat(const json::Value& repeat);
// "flat for 4-6 hours": the largest number that a word for hours, minutes or days follows, up to a week; none: no such number.
Length longest_in(std::string_view text);
Length longest(std::initializer_list<Length> lengths);

}  // namespace fhir_read
