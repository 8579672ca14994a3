// The conditions for taking a sheath out.
#pragma once

#include "clinical/case_facts.h"

namespace clinical {

class Evidence;      // a case at an instant, with its measurements looked up once (evidence.h): each of these can be asked
class SiteEvidence;  // of one that is there already
class LastActCurve;  // projection.h

/// Every gate that applies to this site, at clock.now(), in GateName order. Pure; uses only facts with a clinical time <= clock.now().
/// Notes to the clock each instant at which an answer could change. Gates answered by a valid decision of a clinician come back open.
std::vector<Gate> gates_at(const SiteEvidence&);
std::vector<Gate> gates_at(const CaseFacts&, const SiteFacts&, const Protocol&, const Clock&);

/// The gates that speak of clotting: history, home, and act to fibrinolytic (platelets and after are not).
bool is_coagulation_gate(GateName);

/// remove-sheath from the gates: due / expected / blocked with earliest and expected. `gates` are those at clock.now(); evaluates them
/// again at the instant when all clocks have run out, to see whether every value would still be fresh then.
struct Removal {
  StepStatus status = StepStatus::blocked;
  std::optional<Instant> earliest, expected;
  std::vector<Basis> basis;
  Reason why;
};
Removal removal_at(const SiteEvidence&, const std::vector<Gate>& gates, const std::optional<Projection>&);
Removal removal_at(const CaseFacts&, const SiteFacts&, const Protocol&, const Clock&, const std::vector<Gate>& gates, const std::optional<Projection>&);

/// The ACT projection for the case (it is the patient's, shown in each site), or null where none applies. Also gives the next draw where a draw is wanted.
std::optional<Projection> project_act(const Evidence&, LastActCurve&);
std::optional<Projection> project_act(const CaseFacts&, const Protocol&, const Clock&);

/// Rows of the agents given (non-flush antithrombotics and reversal agents in the window), with half-life and fraction left.
std::vector<AgentRow> agents_at(const Evidence&);
std::vector<AgentRow> agents_at(const CaseFacts&, const Protocol&, const Clock&);

/// Cockcroft-Gault, lower of actual and adjusted weight; null when creatinine, weight, age or sex is missing, not fresh, or unstable.
/// `band_worse`: height missing, so the next worse band must be used.
struct ClearanceResult {
  std::optional<Clearance> clearance;
  bool band_worse = false;
  bool dialysis = false, unstable = false;
  std::vector<Fact> missing;
};
ClearanceResult clearance_at(const CaseFacts&, const Protocol&, const Clock&);

/// A therapeutic (non-flush) dose of an anticoagulant that counts as procedural for this site: from case.procedural-look-back before the start to its
/// sheath out, or one whose hold had not run out at sheath out. unknown when either history gate is not open.
Tristate procedural_anticoagulant(const SiteEvidence&);
Tristate procedural_anticoagulant(const CaseFacts&, const SiteFacts&, const Protocol&, const Clock&);

bool is_anticoagulant(Agent);
bool is_gp_inhibitor(Agent);
bool is_low_molecular_weight_heparin(Agent);
bool is_direct_oral(Agent);
bool is_fibrinolytic(Agent);
bool moves_inr(Agent);         ///< warfarin and what reverses it
bool is_antiplatelet(Agent);   ///< aspirin, P2Y12 inhibitors, cangrelor

}  // namespace clinical
