// Lines of templates/ that a Task's description carries beside its sentence: what to look at, in order. A site edits, drops or adds them; they are
// numbered from 1 without a gap ("lines.walk.1" in [reason]).
#pragma once

#include <string>
#include <vector>

#include "fhir_write/context.h"

namespace fhir_write {

/// In the order in which they are to be read; empty: the step has none.
std::vector<std::string> task_lines(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);

}  // namespace fhir_write
