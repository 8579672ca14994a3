// What the rows of hold and rest share: which row applies, and the floors.
#pragma once

#include <vector>

#include "clinical/site_view.h"
#include "clinical/tally.h"

namespace clinical {

/// The vein's longer row: a large or unknown sheath, several sheaths or punctures, a procedural anticoagulant or none known of.
bool vein_takes_longer(const SiteView&);

/// The tally with the larger value; of equal ones the first.
Tally larger(Tally, Tally);

/// The floor for an intervention or a procedural anticoagulant; unknown counts as yes. No line where both are known to be absent.
void raise_for_procedure(Tally&, const Setting& floor, const SiteView&, const char* code);

/// The sources of the sheath size.
std::vector<Source> size_sources(const SiteView&);

}  // namespace clinical
