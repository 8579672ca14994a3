// Clinicians' standing orders beside the plan, and what the record keeps back. Of two lengths the longer is planned, and the difference is said.
#pragma once

#include "clinical/site_view.h"
#include "clinical/tally.h"

namespace clinical {

/// Bed rest that is ordered for this site, as a length from T0 (an order "until" counts once T0 stands). Raises the tally to it. The conflict of
/// the two lengths where they differ; none: no order says how long, or it says the same.
std::optional<Conflict> raise_to_order(Tally&, const SiteView&);

/// What orders say of taking this site's sheath out; none: nothing that holds it back.
struct RemovalOrder {
  const Order* order = nullptr;
  bool forbidden = false;             ///< "not", or on hold
  std::optional<Instant> not_before;  ///< the latest of them; always there where nothing is forbidden
};
std::optional<RemovalOrder> removal_order(const SiteView&);

/// Drugs that act on clotting and are ordered while a sheath is in or haemostasis is not confirmed; bed rest ordered without a length; what is
/// kept back; drugs that only a form or a report names. Fixed order, each once.
std::vector<Reason> order_cautions(const CaseFacts&, const Clock&);

/// The record says that it keeps facts of this kind (or of every kind) back now; null: it does not.
const Withheld* withheld(const CaseFacts&, WithheldKind, const Clock&);

}  // namespace clinical
