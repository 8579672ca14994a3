// Decimal text of canonical values, for reasons. No locale: words/ decides how numbers look on paper.
#pragma once

#include <string>

#include "clinical/protocol.h"
#include "clinical/value.h"

namespace clinical {

/// "1.5", "-0.000001", "12"; no trailing zeros.
std::string digits_of(Micro);

/// The setting as a value for a reason, its unit as people write it: "150 s", "1.5" (INR), "90 mmHg".
Value as_value(const Setting&);

/// A canonical value computed here (a fall, a total), with its unit as given.
Value computed(Micro micro, std::string_view unit);

// Certainty about an upper limit; see Value::surely_below for the lower side. Merely possible answers false.
bool surely_at_most(const Value&, Micro limit);
bool surely_above(const Value&, Micro limit);

}  // namespace clinical
