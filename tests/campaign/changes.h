// What law 3 speaks of: a risk more, a value worse, a demanded fact less. None of them may move a milestone earlier.
#pragma once

#include <vector>

#include "clinical/plan.h"
#include "story.h"

namespace campaign {

struct Before {
  const clinical::Record& record;
  const std::vector<clinical::CasePlan>& plans;
  clinical::Instant now;
};

struct Change {
  const char* name;
  /// False: says nothing here (and the record may be left changed).
  bool (*apply)(clinical::Record&, const Before&, Picks&);
  /// False where the specification itself gives the unknown the shorter hold: an unknown closure is manual.
  bool sizes_hold = true;
  /// False where what counted on a rest is lost with the rest: only the instants are compared.
  bool sizes_rest = true;
};

const std::vector<Change>& risks();    ///< changes_risks.cpp
const std::vector<Change>& losses();   ///< changes_losses.cpp

/// State of this gate in every site whose sheath is in; none where no site has it.
std::optional<clinical::GateState> worst_state(const std::vector<clinical::CasePlan>&, clinical::GateName);
bool every_sheath_out(const std::vector<clinical::CasePlan>&);

}  // namespace campaign
