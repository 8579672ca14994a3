// The resources of one patient -> clinical facts and issues. One file for each resource type stands behind this.
#pragma once

#include "fhir/issue.h"
#include "fhir_read/resource_set.h"
#include "fhir_read/site_map.h"
#include "fhir_read/terminology.h"

namespace fhir_read {

struct ReadResult {
  clinical::Record record;
  fhir::Issues issues;  // sorted by place, each once
};

// Never fails: what cannot be read is an issue, and an unknown in the record where leaving it out would make it look normal. Facts are
// in the order of the set; times are UTC.
ReadResult read_record(const ResourceSet& set, const SiteMap& site, const Terminology& terms);

}  // namespace fhir_read
