// What lengthens the hold and the rest of one site, and what puts it on the closer watch. Nothing here ever shortens.
#pragma once

#include <string_view>
#include <vector>

#include "clinical/site_view.h"
#include "clinical/tally.h"

namespace clinical {

struct Modifier {
  std::string_view name;                 ///< term "add.<name>": "platelets"
  const Setting* hold = nullptr;         ///< minutes; null: adds none
  const Setting* rest = nullptr;         ///< hours; null: adds none
  const Setting* rest_floor = nullptr;
  bool high_watch = false;
  bool low_hold = false;                 ///< lengthens the low-pressure hold of a device
  bool unknown = false;                  ///< the worst row that does not block, because the fact is not recorded
  std::vector<Source> inputs;
};

/// Every modifier that applies now, in a fixed order. Values count from the start of the case to T0 (the worst); without one the last that was
/// still fresh at the start, else the first after T0; until then the worst row that does not block.
std::vector<Modifier> modifiers_of(const SiteView&);

/// Adds the largest in full and `further` for each other one, at most `longest` in all; one line each. The order of `modifiers` does not matter.
/// Gives back what `longest` still leaves.
std::chrono::minutes add_all(Tally&, const std::vector<Modifier>& modifiers, const Setting* Modifier::*amount, const Setting& further, const Setting& longest);

}  // namespace clinical
