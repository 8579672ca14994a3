// How confidential the facts of a patient are.
#pragma once

#include <string>

#include "fhir_read/resource_set.h"

namespace fhir_read {

// The highest code of v3-Confidentiality in meta.security of all that is held, contained resources apart (they have no label of their own); "" where none
// carries one.
std::string highest_confidentiality(const ResourceSet&);

}  // namespace fhir_read
