// Signs that the kidneys are worse than an older creatinine says. They become creatinines without a value: no clearance is reckoned from what they make out of date.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

// An estimated glomerular filtration rate; a low one is kept. False: it is none.
bool read_filtration_rate(const Resource& r, Reading& reading);
// A Condition that says the kidneys fail now, and stands.
void read_kidney_failure(const Resource& r, Reading& reading);
// Once all is read: what a creatinine of the same draw or a later one speaks for is dropped.
void drop_answered_rates(Reading& reading);

}  // namespace fhir_read
