// Versions of FHIR across resources: what a sender says, what each is written in, and what does not go together.
#pragma once

#include "fhir/issue.h"
#include "fhir_read/shape.h"
#include "json/tree.h"

#include <optional>
#include <string>
#include <string_view>

namespace fhir_read {

// "4.0", "4.0.1", "4.3" -> r4; "5.0" -> r5; anything else unknown.
FhirVersion version_named(std::string_view number);

// Elements of another version than the sender named for its body (MIME parameter fhirVersion), an issue "version-mixed" at `at`. nullopt: none, or nothing was
// named. The elements count all the same: both versions are read by the same readers.
std::optional<fhir::Issue> other_version(const json::Value& resource, FhirVersion named, std::string_view at);

// Entries of one Bundle in different versions, with one of each named. nullopt: all of one, or nothing tells.
std::optional<fhir::Issue> mixed_versions(const json::Value& bundle, std::string_view at);

}  // namespace fhir_read
