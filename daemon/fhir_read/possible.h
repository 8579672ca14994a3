// What a measurement can be at all. Inside fhir_read only.
#pragma once

#include "clinical/facts.h"

namespace fhir_read {

// False for a number that no living adult has, in the canonical unit of the analyte: a wrong unit, a lost decimal point, another test. A value
// with a comparator ("<0.5") is possible where any number that it may stand for is. Bounds are inclusive.
bool possible(clinical::Analyte, const clinical::Value&);

}  // namespace fhir_read
