// A clinician's recorded answer to a gate in `ask`.
#pragma once

#include <functional>
#include <string_view>

#include "clinical/draft.h"

namespace clinical {

using GateRule = std::function<std::optional<Draft>(const SiteEvidence&)>;

/// The draft as it stands, or opened by a decision that names this gate and a performer, quotes the value seen, is not older than its validity,
/// and since which the situation has not become worse. A decision never opens anything but an `ask`.
Draft decided(const SiteEvidence&, const GateRule&, Draft);

/// The quoted value is the value seen: the same text, or the same number where one of the two lacks the unit.
bool quotes(std::string_view quoted, std::string_view seen);

}  // namespace clinical
