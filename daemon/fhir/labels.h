// Labels in meta.security.
#pragma once

#include <string>
#include <string_view>

namespace fhir {

inline constexpr std::string_view confidentiality_system = "http://terminology.hl7.org/CodeSystem/v3-Confidentiality";
// From the lowest to the highest: unrestricted, low, moderate, normal, restricted, very restricted. Source: HL7 v3 code system Confidentiality.
inline constexpr std::string_view confidentiality_order = "ULMNRV";


// A label as it is carried forward.
struct Label {
  std::string system, code, display;
  friend auto operator<=>(const Label&, const Label&) = default;
};

}  // namespace fhir
