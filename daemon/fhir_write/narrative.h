// The plan in XHTML for readers of a record browser: what is missing first, then each site's gates and steps, then alerts and the small print.
#pragma once

#include <string>

#include "clinical/plan.h"
#include "fhir_write/context.h"

namespace fhir_write {

/// "RIGHT groin: aftercare of a 6 F sheath, femoral artery".
std::string plan_title(const WriterContext&, const clinical::CasePlan&);
/// Two sentences: state, next act or what holds it up.
std::string plan_summary(const WriterContext&, const clinical::CasePlan&);
/// Content of the div.
std::string timetable(const WriterContext&, const clinical::CasePlan&);

}  // namespace fhir_write
