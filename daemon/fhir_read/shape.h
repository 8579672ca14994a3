// Which version of FHIR a resource is written in, as its own elements and its profiles say. R4 and R4B are one here: they do not differ in
// anything that is read.
#pragma once

#include "json/tree.h"

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

enum class FhirVersion { unknown, r4, r5 };

// Members that only one version has at the top of a type: "effective[x]" stands for effectiveDateTime, effectivePeriod and the like.
// Source: StructureDefinitions of 4.0.1 and 5.0.0 (tests/fhir_read/shape_test.cpp compares).
struct VersionMarks {
  std::string_view type;
  std::span<const std::string_view> r4, r5;
};
std::span<const VersionMarks> version_marks();
bool is_named(std::string_view member, std::string_view mark);

struct Shape {
  FhirVersion stated = FhirVersion::unknown;  // by meta.profile
  std::vector<std::string> r4, r5;            // members of one version only, in their order in the resource
  // unknown: nothing tells, or what tells disagrees.
  FhirVersion version() const;
  bool mixed() const;
};
Shape shape_of(const json::Value& resource);

}  // namespace fhir_read
