#include "clinical/stopped.h"

#include <utility>

namespace clinical {
namespace {

void close(Milestone& milestone, const Reason& why) {
  if (milestone.status == StepStatus::done) return;
  milestone.status = StepStatus::cancelled;
  milestone.late = milestone.released = false;
  milestone.earliest.reset();
  milestone.expected.reset();
  milestone.latest.reset();
  milestone.why = why;
}

}  // namespace

std::optional<Reason> why_stopped(const Patient& patient) {
  if (!patient.merged_into.empty()) return Reason{"case.stopped.merged", {{"into", patient.merged_into}}};
  if (patient.deceased) return Reason{"case.stopped.deceased", {}};
  if (!patient.active) return Reason{"case.stopped.inactive", {}};
  return std::nullopt;
}

void stop(CasePlan& plan, Reason why) {
  plan.state = CaseState::withdrawn;
  for (auto& site : plan.sites) {
    for (auto& milestone : site.milestones) close(milestone, why);
    site.gates.clear();
    site.projection.reset();
  }
  plan.missing.clear();
  plan.conflicts.clear();
  plan.alerts.clear();
  plan.next_change.reset();
  plan.valid_until.reset();
  plan.up_at.reset();
  plan.stopped = std::move(why);
}

}  // namespace clinical
