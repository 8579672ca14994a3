// How long a site keeps the patient flat.
#pragma once

#include <optional>
#include <vector>

#include "clinical/early_walk.h"

namespace clinical {

/// Lengths from T0.
struct RestPlan {
  minutes head{}, sit{}, walk{}, discharge{};  ///< discharge: as planned, from the end of the rest; later where walking is late
  minutes untroubled{};                        ///< of walk without what was found on rest; see length_for
  std::optional<Instant> troubled;             ///< since when more than that is known; null: it always was, or there is no more
  std::vector<Basis> head_basis, basis;        ///< basis: of walk (sit and discharge add one line each)
  Basis sit_line, discharge_line;
  std::vector<Reason> early;                   ///< what there is to say of early rows; empty: the protocol has none
  std::vector<Fact> early_asked;               ///< facts that hold back nothing but an early row
  std::optional<Conflict> differs;             ///< a clinician ordered another length; the longer is planned
  std::optional<Reason> ask;                   ///< over the longest that is set without a physician: instants null
};

/// The length that held for a walk at that time: a swelling or a pressure that was found and an order that was written after it make it no early one.
minutes length_for(const RestPlan&, Instant walk);

/// Base, cap, floors, then adds; rebleeds and swelling stand outside the cap of the adds. An early row takes the place of base, cap and the floors
/// of the procedure; what lengthens comes on top of it too.
RestPlan rest_plan(const SiteView&, const std::vector<Modifier>&, const HoldPlan&);

/// Not before this long after T0, whenever the patient walked; zero: no such limit.
minutes discharge_floor(const SiteView&);

}  // namespace clinical
