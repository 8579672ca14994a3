// A clinician's recorded answer to a gate in `ask`.
#pragma once

#include <string_view>

#include "clinical/draft.h"

namespace clinical {

using GateRule = std::optional<Draft> (*)(const SiteEvidence&);

/// Leaves the draft as it stands, or opens it by a decision that names this gate and a performer, quotes the value seen, is not older than its validity,
/// and since which the situation has not become worse. Where there is no value to quote the facts that the gate rests on may not have been changed since either, and
/// one that was refused or recorded as a no later opens nothing. A decision never opens anything but an `ask`.
void decide(const SiteEvidence&, GateRule, Draft&);

/// It is a no, or a no on the same gate or step was recorded at its time or later.
bool withdrawn(const Decision&, const std::vector<Decision>&);

/// The quoted value is the value seen: the same text, or the same number where one of the two lacks the unit. Where there is none to be seen nothing may be quoted.
bool quotes(std::string_view quoted, std::string_view seen);

}  // namespace clinical
