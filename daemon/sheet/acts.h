// What is to be done next, out of all steps of all sites.
#pragma once

#include <optional>
#include <vector>

#include "clinical/plan.h"

namespace sheet {

struct Act {
  const clinical::SitePlan* site = nullptr;
  const clinical::Milestone* step = nullptr;
  bool now() const { return step->status == clinical::StepStatus::due; }
};

struct Acts {
  std::optional<Act> next;   ///< none: nothing has a time, see `held`
  std::optional<Act> held;   ///< with no next act: the first step that is held back
  std::vector<Act> then;     ///< what follows, by time, of the checks the next alone; at most four
};

/// What waits for an open emergency is in none of them.
/// Of what may be done now the step furthest on in the course leads (sheath out only after the two at the groin have confirmed), then a call for
/// a clinician, then a blood draw, then a check that is due; else the earliest of steps and checks that has a time.
Acts acts_of(const clinical::CasePlan&);

}  // namespace sheet
