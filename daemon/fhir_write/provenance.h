// Who made a write, from which facts in which versions, under which protocol.
#pragma once

#include <string>
#include <vector>

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

/// `targets`: references as used in the same transaction. `first`: nothing of the case was written before.
json::Value provenance(const WriterContext&, const clinical::CasePlan&, const std::vector<std::string>& targets, bool first);

}  // namespace fhir_write
