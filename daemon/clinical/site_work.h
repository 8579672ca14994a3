// One site on its way from facts to plan: every part worked out once, in the order in which they need each other.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/alerts.h"
#include "clinical/rest.h"

namespace clinical {

struct SiteWork {
  SiteView view;
  std::vector<Modifier> modifiers;
  HoldPlan hold;
  RestPlan rest;
  std::optional<Reason> scope;          ///< out_of_scope: no instant and no length is given
  bool hold_ordered = false, rest_ordered = false;  ///< a clinician answered the plan's ask
  bool early = false;                   ///< haemostasis was confirmed sooner than the planned hold
  bool high_watch = false;
  std::vector<Reason> watched_for;      ///< why; empty: no high watch
  Watch watch;
  std::vector<Alert> alerts;
  std::optional<Reason> limb;           ///< signs of an ischaemic limb: the timeline is withheld

  const SiteFacts& site() const { return view.site; }
  /// Start of the hold that runs, or of the last one; none: not pressed yet, or since an unknown time, or nobody recorded that it is.
  std::optional<Instant> hold_start() const;
  /// Why no instant may be given; null: it may. An answered ask holds nothing.
  std::optional<Reason> removal_held() const;
  std::optional<Reason> hold_held() const;
  std::optional<Reason> rest_held() const;
};

/// Everything but watch, alerts and limb.
SiteWork begin_work(const SiteEvidence& now);
/// Adds watch, alerts and limb; `getting_up` are the clock times of the patient's getting-up steps, where they are known.
void finish_work(SiteWork&, const std::vector<Instant>& getting_up);

/// A recorded decision names this step, a performer and the planned length ("105 min").
const Decision* decision_on(const CaseFacts&, Step, minutes planned);

}  // namespace clinical
