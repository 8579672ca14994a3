// What a sender is told about one resource at once, before anything else of the patient is looked at.
#pragma once

#include "fhir/issue.h"
#include "fhir_read/site_map.h"
#include "fhir_read/terminology.h"
#include "json/tree.h"

namespace fhir_read {

/// Errors and warnings of reading this resource alone, with their paths: a value without a unit, a finding that is on no list, a drug that cannot be told.
/// What only others could answer (a Medication it refers to, the case it belongs to) is left out. Empty for types that do not matter.
fhir::Issues reading_issues(const json::Value& resource, const SiteMap&, const Terminology&);

}  // namespace fhir_read
