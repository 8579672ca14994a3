// Which doses belong to the procedure. Shared by the history gate and by what sizes the plan.
#pragma once

#include <vector>

#include "clinical/evidence.h"

namespace clinical {

struct ProceduralDose {
  const Administration* given = nullptr;
  /// Surely given, surely in the time of the procedure, and of the kind given for one: it tells the history. Others only lengthen.
  bool tells = false;
  /// Of the kind given for a procedure; oral drugs are not.
  bool for_procedures = false;
};

/// Non-flush anticoagulants that were, or may have been, given from the procedural look-back before the start to this site's sheath out.
std::vector<ProceduralDose> procedural_doses(const SiteEvidence&);

}  // namespace clinical
