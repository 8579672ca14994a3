// Any bytes as a unit: it is refused, or its factor is positive, the same in both directions, and one in itself.
#include "fhir/ucum.h"
#include "fhir/units.h"

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);  // NOLINT: bytes as they come
  if (const auto unit = fhir::parse_ucum(text)) {
    if (unit->factor.num <= 0 || unit->factor.den <= 0) std::abort();
    if (fhir::factor_between(*unit, *unit) != fhir::Ratio{1, 1}) std::abort();
  }
  for (int kind = 0; kind <= static_cast<int>(fhir::QuantityKind::milligrams); ++kind) {
    const auto known = fhir::find_unit(text, static_cast<fhir::QuantityKind>(kind));
    if (known && (known->factor.num <= 0 || known->factor.den <= 0)) std::abort();
  }
  for (const bool heparin : {false, true}) {
    const auto drug = fhir::find_drug_unit(text, heparin);
    if (drug && (drug->factor.num <= 0 || drug->factor.den <= 0)) std::abort();
  }
  return 0;
}
