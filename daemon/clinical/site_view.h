// One site with everything its plan is computed from, looked up once.
#pragma once

#include <optional>
#include <vector>

#include "clinical/evidence.h"
#include "clinical/gates.h"

namespace clinical {

struct SiteView {
  const CaseFacts& facts;
  const SiteFacts& site;
  const Protocol& protocol;
  const Clock& clock;
  SiteEvidence now;                        ///< of all four: what counts now
  std::vector<Gate> gates;                 ///< while the sheath is in: at now; after it came out: as they were at the pull
  std::optional<Instant> pulled;           ///< when the sheath came out; none: in, or out at an unknown time
  Tristate anticoagulant = Tristate::unknown;  ///< procedural anticoagulant
  bool home_known = false;                 ///< what was taken at home is told by now
  bool history_known = false;              ///< what was given for the procedure is told by now

  bool intervention() const { return facts.intervention != Tristate::no; }        ///< unknown counts as yes
  bool anticoagulated() const { return anticoagulant != Tristate::no; }           ///< unknown counts as yes
  Closure method() const;                  ///< manual where unknown; of the hold that runs or ran last
  bool failed_device() const;              ///< a device or suture was meant to close it and did not
  bool may_be_artery() const { return !known_vein(); }
  bool known_vein() const { return site.vessel.usable() && site.vessel.value == Vessel::vein; }
  bool known_artery() const { return site.vessel.usable() && site.vessel.value == Vessel::artery; }
  std::optional<int> french() const { return site.french.usable() ? std::optional(site.french.value) : std::nullopt; }
  bool closed_by_device() const { return method() == Closure::device || method() == Closure::suture; }
};

SiteView view_of(const SiteEvidence& now);

/// Why every instant and length of removal, compression and rest of a site is withheld ("Scope"); null: nothing is.
std::optional<Reason> out_of_scope(const SiteView&);

enum class Stage { removal, compression, rest };
/// Why the instants of a stage are withheld because records contradict each other; null: they are not.
std::optional<Reason> held_by_conflict(const SiteView&, Stage);

}  // namespace clinical
