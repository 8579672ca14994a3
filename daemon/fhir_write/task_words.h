// What a Task says: a title with the side in its first words, and a description that can be acted on without opening anything else.
#pragma once

#include <string>

#include "clinical/change.h"
#include "fhir_write/context.h"

namespace fhir_write {

std::string task_title(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);
std::string task_description(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);
/// Why it is asked, in one sentence; may be empty.
std::string task_reason(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);

}  // namespace fhir_write
