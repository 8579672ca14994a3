// One gate while it is being worked out: the gate, and what decisions and other gates need to know of it.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "clinical/doses.h"
#include "clinical/evidence.h"
#include "clinical/plan.h"

namespace clinical {

struct Draft {
  Gate gate;
  std::optional<Micro> severity;  ///< of an `ask` that rests on a value: larger is worse; none: the reason itself tells one situation from another
};

using Arguments = std::vector<std::pair<std::string, Argument>>;

Draft draft(GateName, GateState, const Rule&, std::string code, Arguments, std::vector<Source> inputs);
/// A rule that has no setting of its own.
const Rule& rule_without_setting(GateName);

/// "@agent.heparin", "@gate.act", "@fact.side": names of terms in templates/.
std::string term(Agent);
std::string term(GateName);
std::string term(Fact);

/// A dose that runs on closes; one whose stop or time is not recorded asks for it. None when every dose has ended at a recorded time.
std::optional<Draft> dose_trouble(GateName, const Rule&, const std::vector<DoseEnd>&);

/// A gate that a clock alone opens: dose_trouble, then closed until the last clock has run out, then open. `doses` is not empty.
Draft clock_gate(const Evidence&, GateName, const std::vector<DoseEnd>&, const HoldOf&);
/// Closed (or asking for the exact time) while the last clock runs; none once it has surely run out.
std::optional<Draft> clock_still_runs(const Evidence&, GateName, const ClockEnd&, const std::vector<DoseEnd>&);

/// Adds the fact once.
void ask_for(Gate&, Fact);
void ask_for(Gate&, const std::vector<Fact>&);

}  // namespace clinical
