// The patient's steps: head up, sit, stand and walk, discharge. One time for the patient, the latest of all sites of all open cases.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/site_work.h"

namespace clinical {

/// A site with its case, as the patient's steps see it. Sites of finished cases are left out.
struct RestingSite {
  const SiteWork* work;
  std::string case_reference;
};

struct GettingUp {
  /// Latest clock times; all null while one site's sheath is in or its T0 is missing, or one site's rest is withheld.
  std::optional<Instant> head, sit, walk, discharge;
  std::optional<Instant> last_t0;
  std::string up_site;                     ///< key of the site that decides `walk`
  std::optional<Reason> held;              ///< why nothing is given, where a site is withheld or not ready
  const SiteWork* held_by = nullptr;       ///< the site that `held` speaks of
  std::optional<Instant> walked, sat, raised, discharged;  ///< recorded as done after the last T0; walked: when the patient might have sat up, at the earliest
  std::optional<Instant> walked_early;     ///< recorded before that: it is no first walk, and its clock stands
  std::optional<Instant> discharged_early; ///< a discharge check from before its time: it is still to do
};

GettingUp getting_up(const std::vector<RestingSite>&);

/// The clock times at which a check is due as well; empty: not known. Who has walked needs none for what would have come later.
std::vector<Instant> clock_times(const GettingUp&);

/// Why the patient may not get up at this instant although the clock has run: the last checks, the pressure, an open alert, missed checks.
/// Null: nothing speaks against it. `patient`: the alerts of the patient in all open cases.
std::optional<Reason> not_ready(const std::vector<RestingSite>&, const std::vector<Alert>& patient, const Clock&);

/// The patient's steps as they stand in one site; `not_ready` as above.
std::vector<Milestone> getting_up_steps(const SiteWork&, const GettingUp&, const std::optional<Reason>& not_ready);

/// check-after-walk (three) and ask-anticoagulant-plan.
std::vector<Milestone> after_care_steps(const SiteWork&, const GettingUp&);

}  // namespace clinical
