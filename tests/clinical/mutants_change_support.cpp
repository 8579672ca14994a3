#include "mutants_change_support.h"

namespace clinical {

using example::at;
using example::milestone;
using example::reason;

CasePlan rich() {
  CasePlan plan = example::sheath_in();
  auto& s = plan.sites[0];
  s.gates[0].expires_at = at(18);
  s.gates[2].state = GateState::ask;
  s.gates[2].value_seen = "60";
  const Milestone draw = s.milestones[0], check = s.milestones[2], stand = s.milestones[3];
  s.milestones = {draw, milestone(Step::confirm_readiness, StepStatus::due, at(15), true), milestone(Step::remove_sheath, StepStatus::due, at(15), true), check, stand};
  plan.alerts = {{"temperature", AlertLevel::tell, "", "temperature||15:00", reason("test.alert"), {{"Observation/t", "1", false}}}};
  plan.agents = {{Agent::heparin, at(12), false, 0.5, minutes{60}, {}, {}, {}}};
  plan.cautions = {reason("test.caution")};
  s.projection = Projection{whole(150), at(16), at(17), at(18), at(15, 30), true};
  s.watched_for = {reason("test.watch")};
  return plan;
}

std::string name_of_task(const ItemKey& key) {
  if (key.step != Step::call_clinician) return std::string(name_of(*key.step)) + (key.ordinal ? "#" + std::to_string(key.ordinal) : "");
  return key.cause.starts_with("gate ") ? "ask" : key.cause.starts_with("claimed ") ? "alarm" : key.cause.empty() ? "call" : "alert";
}

}  // namespace clinical
