// Which procedures open a case, what its access sites are, and which event or check belongs to which.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "clinical/case_facts.h"

namespace clinical {

enum class Opens { nothing, provisional_case, index_case };
/// What a Procedure opens by its status, code and site; one that is partOf an index case is decided by names_own_site.
Opens opens(const Procedure&);
/// The Procedure names a femoral site, a vessel or a sheath of its own.
bool names_own_site(const Procedure&);

/// A site as a Procedure describes it, nothing placed yet; side and vessel are settled.
SiteFacts site_of(const Procedure&);
/// Settles side, vessel, size and closure from the Procedure and the events placed so far.
void settle(SiteFacts&, const Procedure&);
/// One conflict for each of the four that is contradicted.
std::vector<Conflict> contradictions(const SiteFacts&);

/// What an event, check or Task says of where it belongs. `procedure` lives as long as that fact.
struct Pointer {
  std::string_view procedure;
  Side side = Side::unknown;
  Vessel vessel = Vessel::unknown;
};
/// The site is not of another side or vessel than the pointer says; where the pointer says one, the site must be known to have it.
bool fits(const Pointer&, const SiteFacts&);
/// Of `candidates` the one the pointer means; null when none or several could be meant. `Site` is SiteFacts, const or not.
template <class Site>
Site* meant(const Pointer& pointer, const std::vector<Site*>& candidates) {
  if (candidates.size() == 1) return candidates.front();
  Site* found = nullptr;
  for (auto* site : candidates) {
    if (!fits(pointer, *site)) continue;
    if (found) return nullptr;
    found = site;
  }
  return found;
}

/// The one place where a sheath is named "6 F" from 5.3 F or 2 mm: the next whole French.
int whole_french(Micro french);

}  // namespace clinical
