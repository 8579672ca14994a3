#include "fhir_read/possible.h"

#include <limits>

namespace fhir_read {
namespace {

using clinical::Analyte;
using clinical::Micro;

struct Bounds {
  Micro lowest, highest;
};

constexpr Micro milli(std::int64_t n) { return n * (clinical::kMicro / 1000); }
constexpr Bounds from_to(std::int64_t low_in_thousandths, std::int64_t high) { return {milli(low_in_thousandths), clinical::whole(high)}; }

// All from memory, wide on purpose: outside them is no patient but another unit, a slipped digit or another test. Where a low or a high number can
// only close gates and call for help (a pressure of 40 mmHg, platelets of 2) the bound on that side is widest, so that no emergency is taken for a
// slip. Canonical units: see clinical/facts.h.
Bounds bounds_of(Analyte analyte) {
  switch (analyte) {
    case Analyte::act: return from_to(40'000, 3000);         // s; without heparin 70 to 180
    case Analyte::aptt: return from_to(10'000, 600);         // s; usually 22 to 40
    case Analyte::anti_xa: return from_to(1, 20);            // [iU]/mL
    case Analyte::inr: return from_to(500, 40);
    case Analyte::platelets: return from_to(1, 5000);        // 10*9/L
    case Analyte::haemoglobin: return from_to(500, 28);      // g/dL; 131 is one of g/L
    case Analyte::fibrinogen: return from_to(1, 30);         // g/L
    case Analyte::creatinine: return from_to(100, 50);       // mg/dL: 9 to 4420 umol/L
    case Analyte::weight: return from_to(20'000, 400);       // kg, adults
    case Analyte::height: return from_to(50'000, 275);       // cm, adults
    case Analyte::systolic: return from_to(10'000, 400);     // mm[Hg]
    case Analyte::diastolic: return from_to(1000, 300);      // mm[Hg]
    case Analyte::mean_pressure: return from_to(1000, 350);  // mm[Hg]
    case Analyte::heart_rate: return from_to(1000, 400);     // /min
    case Analyte::alanine_aminotransferase: case Analyte::aspartate_aminotransferase: return from_to(1, 100'000);  // U/L
    case Analyte::bilirubin: return from_to(1, 100);         // mg/dL
    case Analyte::oxygen_saturation: return from_to(1000, 100);  // %
    case Analyte::temperature: return from_to(10'000, 47);   // Cel; 98.6 is one of Fahrenheit
  }
  return {1, std::numeric_limits<Micro>::max()};
}

}  // namespace

bool possible(Analyte analyte, const clinical::Value& value) {
  using clinical::Comparator;
  const Bounds bounds = bounds_of(analyte);
  switch (value.comparator) {
    case Comparator::less: return value.micro > bounds.lowest;
    case Comparator::at_most: return value.micro >= bounds.lowest;
    case Comparator::at_least: return value.micro <= bounds.highest;
    case Comparator::greater: return value.micro < bounds.highest;
    case Comparator::none: break;
  }
  return value.micro >= bounds.lowest && value.micro <= bounds.highest;
}

}  // namespace fhir_read
