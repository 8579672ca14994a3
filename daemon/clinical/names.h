// The outer names of the enumerations (contract: gate names, step codes, facts, states). Stable: stored and sent.
#pragma once

#include <optional>
#include <string_view>

#include "clinical/plan.h"
#include "clinical/protocol.h"

namespace clinical {

std::string_view name_of(GateName);        // "low-molecular-weight-heparin"
std::string_view name_of(GateState);
std::string_view name_of(Fact);            // "sheath-size"
std::string_view name_of(AskedOf);
std::string_view name_of(Step);            // "remove-sheath"
std::string_view name_of(StepStatus);
std::string_view name_of(CaseState);       // "sheath-in"
std::string_view name_of(AlertLevel);
std::string_view name_of(OrderKind);       // "bed-rest", "sheath-removal", "sheath-named", "drug"
std::string_view name_of(Side);
std::string_view name_of(Vessel);
std::string_view name_of(Closure);
std::string_view name_of(Agent);           // generic ingredient, lower case; "other antithrombotic", "unidentified"
std::string_view name_of(Analyte);         // "haemoglobin", "blood-pressure" for the pressures' family is not given here: "systolic"
std::string_view name_of(SettingUnit);     // as protocol files spell it: "min", "h", "mm[Hg]", "10*9/L", UCUM where there is one
std::string_view name_of(AccessEventKind); // "sheath-removed"
std::optional<Step> step_named(std::string_view);
std::optional<AccessEventKind> access_event_named(std::string_view);
std::optional<Agent> agent_named(std::string_view);
std::optional<Analyte> analyte_named(std::string_view);

}  // namespace clinical
