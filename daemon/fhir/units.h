// Exact conversion of the quantities of this job into one unit each: any UCUM (https://ucum.org) term of the right dimension, and the misspellings
// that feeds send.
#pragma once

#include "fhir/decimal.h"
#include "json/tree.h"

#include <boost/system/result.hpp>

#include <string>
#include <string_view>

namespace fhir {

// What a number measures, with the unit it is turned into.
enum class QuantityKind {
  seconds,                // s
  kilograms,              // kg
  centimetres,            // cm
  french,                 // [Ch]; 1 French = 1/3 mm as sheaths are sized (UCUM writes 1 mm/pi)
  millimetres_mercury,    // mm[Hg]
  haemoglobin,            // g/dL; 1 mmol/L = 1.6114 g/dL, where mmol/L counts the single chain with its iron (16.114 g/mmol)
  fibrinogen,             // g/L
  creatinine,             // mg/dL; 1 mg/dL = 88.4 umol/L exactly, by convention
  bilirubin,              // mg/dL; 1 mg/dL = 17.1 umol/L, by convention
  cells,                  // 10*9/L
  anti_xa,                // [iU]/mL
  enzyme,                 // U/L
  inr,                    // {INR}
  per_minute,             // /min
  percent,                // %
  celsius,                // Cel; [degF] is converted
  millilitres,            // mL
  international_units,    // [iU]
  milligrams              // mg
};

enum class UnitFault { no_unit, unknown_unit, disagreeing_units, out_of_range };

struct Converted {
  Millionths amount;
  bool alias = false;  // the unit was no UCUM code but a known spelling
};

// A known unit for `kind`: factor into the kind's own unit.
struct KnownUnit {
  Ratio factor;
  bool alias = false;
};
boost::system::result<KnownUnit, UnitFault> find_unit(std::string_view unit, QuantityKind kind);

// A FHIR Quantity: `code` when `system` is UCUM, else the `unit` text. Code and text that name different sizes disagree.
// A missing unit is no_unit for every kind but inr, whose unit is unity.
boost::system::result<Converted, UnitFault> convert(const json::Value& quantity, QuantityKind kind);

// A dose or a rate: amount, perhaps per kg body weight, perhaps per time.
struct DrugUnit {
  enum class Amount { international_units, milligrams, millilitres } amount = Amount::milligrams;
  Ratio factor;            // into [iU], mg or mL, and per hour where per_time
  bool per_kg = false;
  bool per_time = false;
  bool alias = false;
};
// `units_mean_international`: "U", "units", "UNT" are taken for [iU]. True only for heparins, where feeds mean that.
boost::system::result<DrugUnit, UnitFault> find_drug_unit(std::string_view unit, bool units_mean_international);

// The text by which a Quantity names its unit: UCUM code, else unit; "" when neither.
std::string_view unit_of(const json::Value& quantity);

const char* word(UnitFault fault);  // "no-unit", "unknown-unit", ...

}  // namespace fhir
