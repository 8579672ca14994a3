// Which measurements speak for a site between the start of the case and its T0.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "clinical/site_view.h"

namespace clinical {

/// False: a good value that says nothing, because it was drawn before what could have made it worse.
using Tells = std::function<bool(const Measurement&)>;
/// Takes no worse row. A good value that may be from before the start (its time is known by the day, say) is none from the start on.
using Good = std::function<bool(const Value&)>;

/// The values recorded from the start to T0 (to now while T0 does not stand); if none, the last before the start that was still fresh then;
/// else the first after T0; else empty. Only timed ones that tell; one without a value is among them where it is the newest: it is not known.
std::vector<const Measurement*> telling_values(const SiteView&, Analyte, const Setting& fresh, const Good&, const Tells& = {});

/// The readings of the blood pressure's window before the newest one that is fresh at `at`; empty: none.
/// Of now (not of a pull in this second) a bad reading that is stamped a little ahead counts.
std::vector<const Measurement*> pressures_at(const SiteView&, Analyte, Instant at);

}  // namespace clinical
