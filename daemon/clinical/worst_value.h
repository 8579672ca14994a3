// Which measurements speak for a site between the start of the case and its T0.
#pragma once

#include <optional>
#include <vector>

#include "clinical/site_view.h"

namespace clinical {

/// The values recorded from the start to T0 (to now while T0 does not stand); if none, the last before the start that was still fresh then;
/// else the first after T0; else empty. Only timed ones with a value.
std::vector<const Measurement*> telling_values(const SiteView&, Analyte, const Setting& fresh);

/// The readings of the blood pressure's window before the newest one that is fresh at `at`; empty: none.
std::vector<const Measurement*> pressures_at(const SiteView&, Analyte, Instant at);

}  // namespace clinical
