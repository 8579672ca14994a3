// The rule of each gate, one function a gate: none where the gate does not apply. They know neither decisions nor `since`: gates.cpp adds both.
#pragma once

#include "clinical/draft.h"

namespace clinical {

std::optional<Draft> access_gate(const SiteEvidence&);
std::optional<Draft> site_status_gate(const SiteEvidence&);
std::optional<Draft> site_status_found_gate(const SiteEvidence&);  ///< the same, its sentence with what was found where it is open
std::optional<Draft> anticoagulant_history_gate(const SiteEvidence&);
std::optional<Draft> home_anticoagulants_gate(const SiteEvidence&);
std::optional<Draft> act_gate(const SiteEvidence&);
std::optional<Draft> aptt_gate(const SiteEvidence&);
std::optional<Draft> heparin_clock_gate(const SiteEvidence&);
std::optional<Draft> gp_inhibitor_gate(const SiteEvidence&);
std::optional<Draft> low_molecular_weight_heparin_gate(const SiteEvidence&);
std::optional<Draft> fondaparinux_gate(const SiteEvidence&);
std::optional<Draft> bivalirudin_gate(const SiteEvidence&);
std::optional<Draft> argatroban_gate(const SiteEvidence&);
std::optional<Draft> direct_oral_anticoagulant_gate(const SiteEvidence&);
std::optional<Draft> warfarin_inr_gate(const SiteEvidence&);
std::optional<Draft> fibrinolytic_gate(const SiteEvidence&);
std::optional<Draft> platelets_gate(const SiteEvidence&);
std::optional<Draft> blood_pressure_gate(const SiteEvidence&);
std::optional<Draft> heart_rate_gate(const SiteEvidence&);
std::optional<Draft> haemoglobin_gate(const SiteEvidence&);

/// Names what is recorded as the newest value of its test and cannot be one, or cannot be read, where the gate needs one for want of a value.
void say_unusable(const SiteEvidence&, Gate&);

}  // namespace clinical
