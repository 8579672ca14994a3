// Quantities -> values in canonical units, with issues for what is no number with a unit. Inside fhir_read only.
#pragma once

#include "clinical/value.h"
#include "fhir/units.h"
#include "fhir_read/reading.h"

namespace fhir_read {

// nullopt with an issue at `path`: no number, no unit, a unit of another kind, an unknown comparator, a negative number.
std::optional<clinical::Value> value_of(const json::Value& quantity, fhir::QuantityKind kind, const Resource& r, std::string_view path, Reading& reading);
// A number written as text, ">400 s", "< 50 /nL", "13,1 g/dl": as a Quantity with comparator, number and unit, to be read by value_of. Null where the text is
// anything else ("about 140 s", "140", "1,234 s": a comma or point before three digits may be either).
json::Value quantity_in(std::string_view text);

// SimpleQuantity: as value_of, and a comparator is not allowed.
std::optional<clinical::Value> simple_value_of(const json::Value& quantity, fhir::QuantityKind kind, const Resource& r, std::string_view path, Reading& reading);

// "290 s", ">400 s": digits and unit as written.
std::string written(const json::Value& quantity);

// The code of an extension or component value: valueCode, valueCodeableConcept (of `system`, where given), valueCoding, valueString.
std::string code_value(const json::Value& element, std::string_view system, const Reading& reading);

}  // namespace fhir_read
