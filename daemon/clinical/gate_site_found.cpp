// site-status, open: what was found at the check it rests on, so that it can be compared with the bed.
#include <algorithm>

#include "clinical/gate_rules.h"

namespace clinical {

std::optional<Draft> site_status_found_gate(const SiteEvidence& evidence) {
  auto made = site_status_gate(evidence);
  if (made->gate.state != GateState::open) return made;
  const auto check = std::ranges::find_if(evidence.site.checks, [&](const SiteCheck& c) { return c.source == made->gate.inputs.front(); });
  auto& why = made->gate.why;
  if (check->swelling->micro == 0) why.code = "gate.site-status.open-flat";
  else why.arguments.emplace_back("swelling", *check->swelling);
  why.arguments.emplace_back("bleeding", check->wet() ? "@found.ooze" : "@found.dry");
  return made;
}

}  // namespace clinical
