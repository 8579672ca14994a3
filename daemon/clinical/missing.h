// What nobody has recorded yet, whom to ask for it, and which steps wait for it.
#pragma once

#include <vector>

#include "clinical/getting_up.h"

namespace clinical {

/// The facts a case lacks, each once a site (or once a case), in order of Fact and site. `steps`: the milestones of each site, in the order of `works`.
/// `up`: the patient's steps.
std::vector<Missing> missing_of(const std::vector<SiteWork>& works, const std::vector<std::vector<Milestone>>& steps, const GettingUp& up);

AskedOf asked_of(Fact);

}  // namespace clinical
