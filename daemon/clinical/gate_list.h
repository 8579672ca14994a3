// All gates of a site without their `since`: what removal_at needs to look ahead.
#pragma once

#include <vector>

#include "clinical/evidence.h"

namespace clinical {

/// In GateName order, decisions included.
std::vector<Gate> list_gates(const SiteEvidence&);

}  // namespace clinical
