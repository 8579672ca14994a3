// The answer of the rules: complete, or which facts are wanting.
#pragma once

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

/// status data-required while facts are missing or contradict, else success; the reasons in a contained OperationOutcome.
json::Value guidance_response(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&);
/// The body on the server with status entered-in-error: the case is none. Throws std::logic_error when the context has no body for the key.
json::Value void_guidance(const WriterContext&, const clinical::ItemKey&);

}  // namespace fhir_write
