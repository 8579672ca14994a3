// The half-life of an agent in this patient: by dose, kidneys or liver.
#pragma once

#include <optional>
#include <vector>

#include "clinical/doses.h"
#include "clinical/fraction.h"
#include "clinical/plan.h"

namespace clinical {

struct HalfLife {
  seconds length{};
  Basis basis;
};

/// None: the protocol has none for this agent or this row, or what chooses the row is not known. `given` are the doses with known amounts
/// (heparin: units); empty: amounts not known.
std::optional<HalfLife> half_life_of(const Evidence&, Agent, const std::vector<Input>& given);

/// Minutes at a heparin dose, U/kg: straight lines between the protocol's three points, level outside them.
double heparin_half_life(const Protocol&, double units_per_kg);

}  // namespace clinical
