// What acts on clotting while the patient lies flat after the sheath came out: while it is pressed, after haemostasis, and through every rebleed. The
// clinical model lets none of it move a time of the plan (but for the watch); so it is said, and who gets up under it is asked for.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/evidence.h"
#include "clinical/plan.h"

namespace clinical {

/// Since when the sheath of a site is out: its removal, else the first pressing or haemostasis; null: it is in, or nobody recorded a time.
std::optional<Instant> out_since(const SiteFacts&);

struct GivenInRest {
  const Administration* dose = nullptr;  ///< of the case
  std::string what;                      ///< the drug with its dose, both as recorded; the generic name where none is
  bool running = false;
  bool began_before = false;             ///< before the sheath was out: the plan was made with it
};

/// Anticoagulants, fibrinolytics, GP inhibitors, cangrelor and what cannot be identified, no flush, given or running on after the first sheath of the case came
/// out, by time. Empty: none, or no sheath is out.
std::vector<GivenInRest> given_in_rest(const Evidence&);

/// drug-in-rest and clotting-in-rest. `last_out`: since when every one of the patient's sheaths is out; none: one is in or its time is not known, and its
/// gates reckon with what is given, so that it is told and no more. No alert once the patient has `walked`, or after a named person's decision on
/// stand-and-walk that quotes the drug's generic name (of what cannot be identified its recorded name) or the value.
std::vector<Alert> rest_alerts(const Evidence&, const std::optional<Instant>& walked, const std::optional<Instant>& last_out);

/// Why the patient may not get up under it before the prescriber has decided; null: nothing of this kind, or it is only told.
std::optional<Reason> asks_prescriber(const Alert&);

/// Given after T0 it begins the watch anew. The model says so of heparin; this is the same for whatever stops or dissolves clots at once.
bool restarts_watch(Agent);

}  // namespace clinical
