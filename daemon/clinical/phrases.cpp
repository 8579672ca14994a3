#include "clinical/phrases.h"

#include <algorithm>

#include "clinical/change.h"
#include "clinical/names.h"

namespace clinical {

const SitePlan* site_of(const CasePlan& plan, const std::string& key) {
  const auto found = std::ranges::find(plan.sites, key, &SitePlan::key);
  return found == plan.sites.end() ? nullptr : &*found;
}

Reason where_phrase(const CasePlan& plan, const std::vector<std::string>& site_keys) {
  bool left = false, right = false, unknown = site_keys.empty();
  for (const auto& key : site_keys) {
    const SitePlan* site = site_of(plan, key);
    left = left || (site && site->side == Side::left);
    right = right || (site && site->side == Side::right);
    unknown = unknown || !site || site->side == Side::unknown;
  }
  return {unknown ? "where.unknown" : left && right ? "where.both" : left ? "where.left" : "where.right", {}};
}

bool pressed_below(const SitePlan& site) { return site.direction == Direction::antegrade && site.vessel != Vessel::vein; }

std::string press_term(const CasePlan& plan, const std::vector<std::string>& site_keys) {
  bool below = false, vein = false, other = false;
  for (const auto& site : plan.sites) {
    if (!site_keys.empty() && std::ranges::find(site_keys, site.key) == site_keys.end()) continue;
    const bool of_vein = site.vessel == Vessel::vein;
    below = below || pressed_below(site);
    vein = vein || of_vein;
    other = other || (!of_vein && !pressed_below(site));
  }
  if (below) return vein || other ? "@press.mixed" : "@press.antegrade";
  return vein && !other ? "@press.vein" : "@press.artery";
}

Reason sheath_phrase(const SitePlan& site) {
  const std::string code = "sheath." + (site.vessel == Vessel::unknown ? "vessel-unknown" : std::string(name_of(site.vessel)));
  if (!site.french) return {code + "-size-unknown", {}};
  return {code, {{"french", std::int64_t{*site.french}}}};
}

Reason when_phrase(const Milestone& m) {
  const auto at = [](const char* code, Instant instant) { return Reason{code, {{"at", instant}}}; };
  if (m.actual) return at("when.done", *m.actual);
  switch (m.status) {  // GCOV_EXCL_BR_LINE each enumerator has its case; the edge for none of them is the compiler's
    case StepStatus::done: return {"when.done-unknown", {}};
    case StepStatus::cancelled: return {"when.cancelled", {}};
    case StepStatus::due: return m.earliest ? at("when.due", *m.earliest) : Reason{"when.due-now", {}};
    case StepStatus::expected:
      if (m.earliest) return at("when.from", *m.earliest);
      if (m.after_t0 && *m.after_t0 == minutes{0}) return {"when.at-t0", {}};
      if (m.after_t0) return {"when.after-t0", {{"length", std::chrono::duration_cast<seconds>(*m.after_t0)}}};
      break;
    case StepStatus::blocked: break;
  }
  return m.expected ? at("when.blocked-until", *m.expected) : Reason{"when.blocked", {}};
}

const Alert* open_emergency(const CasePlan& plan) {
  const auto found = std::ranges::find(plan.alerts, AlertLevel::emergency, &Alert::level);
  return found == plan.alerts.end() ? nullptr : &*found;
}

bool waits_for_emergency(const CasePlan& plan, const Milestone& m) {
  const bool later = m.step == Step::confirm_readiness || m.step == Step::remove_sheath || m.step == Step::dress_site || m.step == Step::check_after_walk || m.step == Step::ask_anticoagulant_plan || is_patient_step(m.step);
  return later && m.status != StepStatus::done && m.status != StepStatus::cancelled && open_emergency(plan);
}

bool is_pressed_or_out(const SitePlan& site) {
  const auto removal = std::ranges::find(site.milestones, Step::remove_sheath, &Milestone::step);
  const bool recorded = removal != site.milestones.end() && (removal->status == StepStatus::done || (removal->status == StepStatus::cancelled && !(removal->why && removal->why->code == "case.finished")));
  return recorded || site.sheath_out || site.compression_started || site.t0;
}

}  // namespace clinical
