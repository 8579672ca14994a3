// The time a case spans, and the patient's facts that fall into it.
#pragma once

#include "clinical/case_facts.h"

namespace clinical {

/// Encounter, start, procedure_end and discharge of a case whose index is set.
void set_times(CaseFacts&, const Record&, const Protocol&, const Clock&);

/// case_end from the discharge or the standing T0s.
void set_case_end(CaseFacts&, const Protocol&, const Clock&);

/// The patient's facts inside [start - look-back, case end], by time; adds a conflict for each time that lies ahead or runs backwards.
/// Facts without a time stay in: who uses them decides. A value without one that is bad or cannot be read is made an unread one beside the newest of its test.
void add_patient_facts(CaseFacts&, const Record&, const Protocol&, const Clock&);

/// What is asked for where a measurement of this kind is wanting.
Fact fact_of(Analyte);

}  // namespace clinical
