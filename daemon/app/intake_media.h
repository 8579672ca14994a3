// The media type that a sender names for its body.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "transport/http_message.h"

namespace app {

/// FHIR versions of what is read anywhere: R4, R4B (the same resources) and R5 (notifications; of its resources what R4 knows).
std::span<const std::string_view> fhir_versions();

/// fhirVersion of the Content-Type ("5.0"); empty: none is named.
std::string stated_version(const transport::Headers&);

/// What is wrong with Content-Encoding or Content-Type, for people; empty: nothing, or none is named (then the body is judged). No content coding is taken. Taken are application/fhir+json and
/// application/json with any parameters; fhirVersion (https://hl7.org/fhir/R4/http.html#version-parameter) must be one of `versions`, "4.0".
std::string media_fault(const transport::Headers&, std::span<const std::string_view> versions);

}  // namespace app
