// Early rows: the shortest rest that a trial supports, only for those whom the trial would have taken. Whatever the trial left out must be
// recorded as absent; else the case keeps the rest that it has without early rows.
#pragma once

#include <vector>

#include "clinical/compression.h"

namespace clinical {

struct EarlyRest {
  const Setting* row = nullptr;      ///< from T0, before adds; null: no early row
  std::vector<Basis> lines;          ///< without a row: why not, one line for each exclusion; empty where the protocol has no early rows
  std::vector<Reason> said;          ///< the same for people, in one or two sentences
  std::vector<Fact> asked;           ///< what would have to be recorded for the row; empty where something recorded rules it out anyway
};

/// "@side.left", for sentences that say which groin.
Argument side_term(const SiteView&);

/// The early row of this site, as far as recorded facts allow it now. Law 3 holds: a risk more or a fact less only takes the row away.
EarlyRest early_rest(const SiteView&, const std::vector<Modifier>&, const HoldPlan&);

}  // namespace clinical
