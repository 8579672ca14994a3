// What must be told to somebody at once, computed from recorded facts on every evaluation.
#pragma once

#include <array>
#include <string_view>
#include <vector>

#include "clinical/early_steps.h"
#include "clinical/watch.h"

namespace clinical {

/// A trigger by name and the levels it can have; `site`: raised for one access site, else for the patient.
struct AlertTrigger {
  std::string_view name;
  AlertLevel lowest, highest;
  bool site;
};
inline constexpr std::array kAlertTriggers{
    AlertTrigger{"site-bleeding", AlertLevel::emergency, AlertLevel::emergency, true},       // bleeding seen at a check
    AlertTrigger{"rebleed-question", AlertLevel::tell, AlertLevel::urgent, true},            // a check after T0 that is not dry, until somebody answers; blood
    AlertTrigger{"swelling", AlertLevel::urgent, AlertLevel::emergency, true},               // at or over the limit, or growing; very large
    AlertTrigger{"swelling-small", AlertLevel::tell, AlertLevel::tell, true},                // under the limit and not growing
    AlertTrigger{"limb-ischaemia", AlertLevel::emergency, AlertLevel::emergency, true},      // foot pulse, feeling or movement absent; pale or cold
    AlertTrigger{"foot-pulse-weaker", AlertLevel::urgent, AlertLevel::urgent, true},
    AlertTrigger{"rebleed", AlertLevel::tell, AlertLevel::urgent, true},                     // first; second and further
    AlertTrigger{"early-haemostasis", AlertLevel::tell, AlertLevel::tell, true},             // confirmed sooner than the planned hold
    AlertTrigger{"device-total", AlertLevel::urgent, AlertLevel::urgent, true},              // a device on longer than allowed or ordered
    AlertTrigger{"sheath-dwell", AlertLevel::tell, AlertLevel::tell, true},
    AlertTrigger{"missed-check", AlertLevel::tell, AlertLevel::urgent, true},                // one; two in a row
    AlertTrigger{"timeline-withheld", AlertLevel::tell, AlertLevel::urgent, true},           // side, size or times contradict or are unknown; while it is pressed
    AlertTrigger{"check-without-site", AlertLevel::tell, AlertLevel::emergency, false},      // as bad as what the check found
    AlertTrigger{"retroperitoneal-bleed", AlertLevel::emergency, AlertLevel::emergency, false},  // back pain with pressure, pulse or haemoglobin
    AlertTrigger{"systolic-low", AlertLevel::urgent, AlertLevel::emergency, false},          // under the limit or fallen; very low
    AlertTrigger{"systolic-high", AlertLevel::tell, AlertLevel::urgent, false},
    AlertTrigger{"vasovagal", AlertLevel::emergency, AlertLevel::emergency, false},          // slow pulse with low pressure
    AlertTrigger{"heart-rate", AlertLevel::urgent, AlertLevel::emergency, false},
    AlertTrigger{"haemoglobin-fall", AlertLevel::urgent, AlertLevel::emergency, false},
    AlertTrigger{"platelets-with-gp-inhibitor", AlertLevel::urgent, AlertLevel::urgent, false},
    AlertTrigger{"act-high", AlertLevel::tell, AlertLevel::urgent, false},                   // at the planned pull, or not fallen at two draws
    AlertTrigger{"limb-weakness", AlertLevel::urgent, AlertLevel::urgent, true},             // less feeling or movement
    AlertTrigger{"mass-or-bruit", AlertLevel::urgent, AlertLevel::urgent, true},             // false aneurysm, fistula?
    AlertTrigger{"skin-under-device", AlertLevel::urgent, AlertLevel::urgent, true},
    AlertTrigger{"pain", AlertLevel::urgent, AlertLevel::urgent, true},
    AlertTrigger{"chest-pain", AlertLevel::emergency, AlertLevel::emergency, false},
    AlertTrigger{"neurological-sign", AlertLevel::emergency, AlertLevel::emergency, false},
    AlertTrigger{"oxygen-saturation", AlertLevel::urgent, AlertLevel::urgent, false},        // low, or fallen
    AlertTrigger{"temperature", AlertLevel::tell, AlertLevel::tell, false},
    AlertTrigger{"orthostatic", AlertLevel::tell, AlertLevel::tell, false},                  // pressure falls or dizzy on getting up
    AlertTrigger{"urine", AlertLevel::tell, AlertLevel::urgent, false},                      // none passed, or a full bladder at a scan
    AlertTrigger{"heparin-despite-hit", AlertLevel::urgent, AlertLevel::urgent, false},      // a flush counts
    AlertTrigger{"platelet-fall", AlertLevel::tell, AlertLevel::urgent, false},              // after heparin, or nobody knows of it: low; halved
    AlertTrigger{"up-early", AlertLevel::tell, AlertLevel::urgent, true},                    // on the feet before the rest was over; before haemostasis
    AlertTrigger{"sat-early", AlertLevel::tell, AlertLevel::urgent, true},                   // sat up before it was time; before haemostasis
    AlertTrigger{"head-early", AlertLevel::tell, AlertLevel::tell, true},                    // head raised before it was time
    AlertTrigger{"discharge-check-early", AlertLevel::tell, AlertLevel::tell, true},
    AlertTrigger{"check-unread", AlertLevel::urgent, AlertLevel::urgent, true},              // part of the newest look at the groin cannot be read
    AlertTrigger{"closure-failed", AlertLevel::tell, AlertLevel::urgent, true},              // after haemostasis; pressed as long as without a device
    AlertTrigger{"drug-in-rest", AlertLevel::tell, AlertLevel::urgent, false},               // given after haemostasis and before the patient walked; running, or it dissolves or stops clots at once
    AlertTrigger{"clotting-in-rest", AlertLevel::urgent, AlertLevel::urgent, false},         // a value beyond its limit then
    AlertTrigger{"discharge-early", AlertLevel::urgent, AlertLevel::urgent, true},           // the stay has ended, and haemostasis is not recorded
    AlertTrigger{"discharge-in-rest", AlertLevel::tell, AlertLevel::tell, true},             // the stay has ended before the rest was over
    AlertTrigger{"fibrinogen-low", AlertLevel::tell, AlertLevel::tell, false},               // and no fibrinolytic is recorded
    AlertTrigger{"side-changed", AlertLevel::urgent, AlertLevel::urgent, true},              // the record names another groin than before
};

/// One alert for each open episode of a site. An episode ends after two normal values; its level is the worst seen in it, its name the
/// instant of its first abnormal value. `withheld`: why the site's timeline is, if it is.
struct SiteCourseNow {
  const SiteView& view;
  const HoldPlan& hold;
  const Watch& watch;
  bool early_haemostasis = false;
  bool hold_ordered = false;                 ///< a clinician ordered the planned device total
  std::optional<Reason> withheld;
  std::vector<EarlyStep> early = {};         ///< what was recorded before its time at this site
};
std::vector<Alert> site_alerts(const SiteCourseNow&);
/// Of a case that has ended: the stay ended after haemostasis and before `until`, when the patient might have walked. Null: it did not.
std::optional<Alert> left_in_rest(const SiteView&, Instant until);

/// The patient's own: pressure, pulse, laboratory, and finding_alerts.
std::vector<Alert> patient_alerts(const Evidence&, LastActCurve&);
/// Findings at checks, saturation, temperature, urine, getting up, heparin with heparin-induced thrombocytopenia.
std::vector<Alert> finding_alerts(const Evidence&);

/// The last instant, alert.repeat-unacknowledged or a multiple of it after `since`, at which an alert that nobody took up was raised anew.
std::optional<Instant> raised_again(Instant since, const Protocol&, const Clock&);

}  // namespace clinical
