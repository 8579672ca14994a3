// Statements that nothing was given or taken, beside a record of what was.
#pragma once

#include "clinical/evidence.h"

namespace clinical {

/// no-anticoagulant-given beside a procedural dose, and "none at home" (statement or list) beside a home anticoagulant: each once, with both
/// sides as inputs. They stand until one of the two is withdrawn.
std::vector<Conflict> statement_conflicts(const Evidence&);

}  // namespace clinical
