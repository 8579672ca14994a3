// A clinician's recorded answer to a gate in `ask`.
#pragma once

#include <string_view>

#include "clinical/draft.h"

namespace clinical {

using GateRule = std::optional<Draft> (*)(const SiteEvidence&);

/// Leaves the draft as it stands, or opens it by a decision that names this gate and a performer, quotes the value seen, is not older than its validity,
/// and since which the situation has not become worse. A decision never opens anything but an `ask`.
void decide(const SiteEvidence&, GateRule, Draft&);

/// The quoted value is the value seen: the same text, or the same number where one of the two lacks the unit. Where there is none to be seen nothing may be quoted.
bool quotes(std::string_view quoted, std::string_view seen);

}  // namespace clinical
