// Clinicians' standing orders beside the plan, and what the record keeps back. Of two lengths the longer is planned, and the difference is said.
#pragma once

#include "clinical/site_view.h"
#include "clinical/tally.h"

namespace clinical {

/// Bed rest that is ordered for this site, as a length from T0 (an order "until" counts once T0 stands). Raises the tally to it. The conflict of
/// the two lengths where they differ; none: no order says how long, or it says the same.
std::optional<Conflict> raise_to_order(Tally&, const SiteView&);

/// An order for this site that says until when, or how long, in words that could not be read; null: none.
const Order* unread_rest(const SiteView&);

/// What orders say of taking this site's sheath out; none: nothing that holds it back. Of several the strongest, in this order.
enum class OrderHold { forbidden, unclear, act_too_high, not_before };
struct RemovalOrder {
  const Order* order = nullptr;
  OrderHold hold{};                   ///< act_too_high: no fresh activated clotting time is under what the order names
  std::optional<Instant> not_before;  ///< the latest of them; there with `not_before` alone
};
std::optional<RemovalOrder> removal_order(const SiteView&);
/// Why it holds, with the order's own words.
Reason why_held(const RemovalOrder&);

/// What is to be said of an order for a drug that acts on clotting, while a sheath is in or haemostasis is not confirmed; none: it does not clash.
std::optional<Reason> clashing_drug(const Order&, const CaseFacts&, const Clock&);

/// Drugs that act on clotting and are ordered while a sheath is in or haemostasis is not confirmed; bed rest ordered without a length; orders that name
/// the sheath while one is in; what is kept back; drugs that only a form or a report names. Fixed order, each once.
std::vector<Reason> order_cautions(const CaseFacts&, const Clock&);

/// The record says that it keeps facts of this kind (or of every kind) back now; null: it does not.
const Withheld* withheld(const CaseFacts&, WithheldKind, const Clock&);

}  // namespace clinical
