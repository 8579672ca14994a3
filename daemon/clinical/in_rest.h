// What acts on clotting while the patient lies flat after haemostasis. The clinical model lets none of it move a time of the plan (but for the watch); so
// it is said, and who gets up under it is asked for.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/evidence.h"
#include "clinical/plan.h"

namespace clinical {

struct GivenInRest {
  const Administration* dose = nullptr;  ///< of the case
  std::string what;                      ///< the drug with its dose, both as recorded; the generic name where none is
  bool running = false;
  bool began_before = false;             ///< before T0: the plan was made with it
};

/// Anticoagulants, fibrinolytics, GP inhibitors and cangrelor, no flush, given or running on after the earliest T0 that stands, by time. Empty: none, or no T0.
std::vector<GivenInRest> given_in_rest(const Evidence&);

/// drug-in-rest and clotting-in-rest. `last_t0`: of all the patient's punctures; none: one of them has none, and its gates and its plan reckon with what is given,
/// so that it is told and no more. None once the patient has `walked`, or after a named person's decision on stand-and-walk that quotes the drug's generic
/// name or the value.
std::vector<Alert> rest_alerts(const Evidence&, const std::optional<Instant>& walked, const std::optional<Instant>& last_t0);

/// Why the patient may not get up under it before the prescriber has decided; null: nothing of this kind, or it is only told.
std::optional<Reason> asks_prescriber(const Alert&);

/// Given after T0 it begins the watch anew. The model says so of heparin; this is the same for whatever stops or dissolves clots at once.
bool restarts_watch(Agent);

}  // namespace clinical
