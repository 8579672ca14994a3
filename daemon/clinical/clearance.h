// Which row of a drug's table the kidneys put a patient in.
#pragma once

#include <initializer_list>

#include "clinical/evidence.h"
#include "clinical/gates.h"

namespace clinical {

/// mL/min: (140 - age) x weight / (72 x creatinine in mg/dL), x 0.85 in women. Cockcroft and Gault, Nephron 1976;16:31.
double cockcroft_gault(int age, double weight_kg, double creatinine_mg_dl, Sex);

/// Ideal body weight (50 or 45.5 kg + 2.3 kg per inch over 60) + 0.4 of what is above it.
double adjusted_weight(double weight_kg, double height_cm, Sex);

/// Row number: how many of `edges` (falling, mL/min) the clearance does not exceed; an edge itself falls in the more impaired row, and a
/// missing height moves one row on. None: clearance unknown, dialysis, or creatinine unstable.
std::optional<std::size_t> clearance_row(const ClearanceResult&, std::initializer_list<Micro> edges);

/// `words`: its basis says rule, source and arithmetic too, not the inputs alone.
ClearanceResult clearance_of(const Evidence&, bool words = false);

/// kg; none: not recorded, not exact, or neither of this stay nor fresh.
std::optional<double> weight_of(const Evidence&);

/// Last instant (inclusive) at which the clearance known now stays so; none: not known, or it rests on nothing that expires.
std::optional<Instant> clearance_until(const Evidence&);

/// In the sentence of a clock that has run out: the clearance that chose its hold, and the limits of the row. Nothing where it is not known.
void say_clearance(Gate&, const ClearanceResult&, std::initializer_list<Micro> edges);

/// Sources of the values the clearance was reckoned from.
std::vector<Source> clearance_sources(const ClearanceResult&);

}  // namespace clinical
