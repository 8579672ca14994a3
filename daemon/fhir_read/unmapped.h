// Drugs, results and procedures whose codes mean nothing here and that might matter: each an issue "unmapped-drug", "unmapped-result" or
// "unmapped-procedure" whose text is what an integration engineer needs to extend the site's map, the same for the same codes, so that they can be
// counted. Inside fhir_read only, but for the prefix.
#pragma once

#include "fhir_read/reading.h"

#include <string_view>

namespace fhir_read {

inline constexpr std::string_view kUnmapped = "unmapped-";

// An Observation that no reader wanted: a warning where its words name something that is looked for (the watched words of profiles/terminology),
// information where it is a result with codes of the site alone.
void tell_unmapped_result(const Resource& r, Reading& reading);
// A Procedure that is neither a catheter procedure nor at the femoral vessels, by the same rule.
void tell_unmapped_procedure(const Resource& r, Reading& reading);
// Of a drug that is on no list; `concepts` are what is said of it, empty ones apart.
void tell_unmapped_drug(const std::vector<const json::Value*>& concepts, const Resource& r, Reading& reading);

}  // namespace fhir_read
