// What is written, as FHIR R5 (5.0.0) says it. All is made in the form of R4 and turned at the last moment; what others added stays as it is.
// Element by element: fhir-shapes of both versions (CarePlan, Task, DocumentReference, GuidanceResponse, Communication, DetectedIssue; Binary and Provenance are alike).
#pragma once

#include <string>
#include <vector>

#include "json/tree.h"

namespace fhir_write {

/// A resource, or each entry of a Bundle, but for `stays`: types that are not for the record. What is in the form of R5 already stays; a second time
/// changes nothing.
json::Value as_r5(json::Value resource, const std::vector<std::string>& stays = {});
/// A resource of ours as a record of R5 gave it back, in the form of R4 where the writer reads it again (CarePlan: activities, author; Task; DetectedIssue).
json::Value from_r5(json::Value resource);

}  // namespace fhir_write
