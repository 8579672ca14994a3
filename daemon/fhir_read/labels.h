// How confidential the facts of a patient are.
#pragma once

#include <string>
#include <vector>

#include "fhir/labels.h"
#include "fhir_read/resource_set.h"

namespace fhir_read {

// The highest code of v3-Confidentiality in meta.security of all that is held, contained resources apart (they have no label of their own); "" where none
// carries one.
std::string highest_confidentiality(const ResourceSet&);

// Every label of v3-ActCode in meta.security of all that is held, each once, by code: sensitivity (HIV, PSY, ...), and what is to be done or not to be
// done with it. What is made of labelled facts says as much as they do, so none of them is dropped. A display as first met.
std::vector<fhir::Label> sensitivity_labels(const ResourceSet&);

}  // namespace fhir_read
