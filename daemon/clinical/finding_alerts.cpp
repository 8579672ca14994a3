// Alerts from what nurses find beside pressure, pulse and groin.
#include <algorithm>

#include "clinical/alerts.h"
#include "clinical/episodes.h"
#include "clinical/gate_rules.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "clinical/quantity.h"

namespace clinical {
namespace {

class FindingWatcher {
 public:
  explicit FindingWatcher(const Evidence& now) : now_(now), index_(now.index()), facts_(now.facts), p_(now.protocol), clock_(now.clock) {
    for (const auto& site : facts_.sites)
      for (const auto& check : site.checks) keep(check);
    for (const auto& check : facts_.unplaced_checks) keep(check);
    std::ranges::stable_sort(checks_, [](const auto* a, const auto* b) { return std::tie(a->at->latest, a->source) < std::tie(b->at->latest, b->source); });
    drop_repeated();
  }

  std::vector<Alert> find() {
    flag("chest-pain", &SiteCheck::chest_pain, "alert.chest-pain");
    flag("neurological-sign", &SiteCheck::neurological_sign, "alert.neurological-sign");
    saturation();
    temperature();
    getting_up();
    urine();
    heparin_despite_hit();
    platelet_fall();
    fibrinogen();
    return std::move(found_);
  }

 private:
  void keep(const SiteCheck& check) {
    if (check.at->latest >= facts_.start) checks_.push_back(&check);
  }
  // A look at one groin stands in the list of every site in it. Those of one time and source stand together by now.
  void drop_repeated() {
    const auto same = [](const SiteCheck* a, const SiteCheck* b) { return a->at->latest == b->at->latest && a->source == b->source; };
    checks_.erase(std::unique(checks_.begin(), checks_.end(), same), checks_.end());
  }
  void raise(const char* trigger, Episode& signs) {
    if (auto alert = signs.alert(trigger, {})) found_.push_back(std::move(*alert));
  }
  static Sign sign(const Measurement& m, std::optional<AlertLevel> level, const char* code) {
    if (!level) return normal_at(m.at->latest);
    return {m.at->latest, level, {code, {{"value", *m.value}, {"at", when(*m.at)}}}, &m.source};
  }

  static Sign sign(const SiteCheck& c, std::optional<AlertLevel> level, const char* code) {
    if (!level) return normal_at(c.at->latest);
    return {c.at->latest, level, {code, {{"at", when(*c.at)}}}, &c.source};
  }

  // What was not asked is not "no": only a recorded no is normal.
  void flag(const char* trigger, std::optional<bool> SiteCheck::*finding, const char* code) {
    Episode signs;
    for (const auto* c : checks_)
      if (c->*finding) signs.take(sign(*c, *(c->*finding) ? std::optional(AlertLevel::emergency) : std::nullopt, code));
    raise(trigger, signs);
  }

  std::vector<const Measurement*> values(Analyte analyte) const {
    const auto all = index_.of(analyte);
    std::vector<const Measurement*> found;
    found.reserve(all.size());
    for (const auto* m : all)
      if (m->value && m->at && m->at->latest >= facts_.start) found.push_back(m);
    return found;
  }

  void saturation() {
    const auto all = values(Analyte::oxygen_saturation);
    Episode signs;
    Micro highest = 0;
    for (const auto* m : all) {
      const bool low = !m->value->surely_at_least(p_.alert_saturation_low.micro), fallen = highest - m->value->micro >= p_.alert_saturation_fall.micro;
      signs.take(sign(*m, low || fallen ? std::optional(AlertLevel::urgent) : std::nullopt, "alert.oxygen-saturation"));
      if (m->value->exact()) highest = std::max(highest, m->value->micro);
    }
    raise("oxygen-saturation", signs);
  }
  void temperature() {
    Episode signs;
    for (const auto* m : values(Analyte::temperature))
      signs.take(sign(*m, m->value->surely_below(p_.alert_temperature.micro) ? std::nullopt : std::optional(AlertLevel::tell), "alert.temperature"));
    raise("temperature", signs);
  }

  // The first pressure after each recorded sitting up or standing against the last before it, and dizziness.
  void getting_up() {
    std::vector<Sign> signs;
    for (const auto* c : checks_)
      if (c->dizziness) signs.push_back(sign(*c, *c->dizziness ? std::optional(AlertLevel::tell) : std::nullopt, "alert.orthostatic-dizzy"));
    for (const auto& task : facts_.tasks) {
      const bool up = task.step == name_of(Step::sit_up) || task.step == name_of(Step::stand_and_walk);
      if (!up || task.state != TaskState::completed || !task.changed) continue;
      for (const auto& [analyte, by] : {std::pair(Analyte::systolic, p_.alert_orthostatic_systolic.micro), std::pair(Analyte::diastolic, p_.alert_orthostatic_diastolic.micro)})
        if (auto fall = fallen_after(analyte, task.changed->latest, by)) signs.push_back(std::move(*fall));
    }
    std::ranges::stable_sort(signs, {}, &Sign::at);
    Episode orthostatic;
    for (auto& sign : signs) orthostatic.take(std::move(sign));
    raise("orthostatic", orthostatic);
  }
  std::optional<Sign> fallen_after(Analyte analyte, Instant up, Micro by) const {
    const Measurement *before = nullptr, *after = nullptr;
    for (const auto* m : values(analyte)) {
      if (m->at->latest <= up) before = m;
      else if (!after && m->at->latest <= up + p_.fresh_pressure.span()) after = m;
    }
    if (!before || !after || !before->value->exact() || !after->value->exact()) return std::nullopt;
    return sign(*after, before->value->micro - after->value->micro >= by ? std::optional(AlertLevel::tell) : std::nullopt, "alert.orthostatic-fall");
  }

  // The newest word on it counts; what nobody recorded raises nothing.
  void urine() {
    const SiteCheck *voided = nullptr, *scan = nullptr;
    for (const auto* c : checks_) {
      if (c->voided) voided = c;
      if (c->bladder) scan = c;
    }
    if (scan && voided && *voided->voided && voided->at->latest > scan->at->latest) scan = nullptr;
    if (scan && !scan->bladder->surely_below(p_.alert_bladder_tell.micro)) {
      const bool much = !scan->bladder->surely_below(p_.alert_bladder_urgent.micro);
      found_.push_back(alert_since("urine", much ? AlertLevel::urgent : AlertLevel::tell, {}, scan->at->latest,
                                   {"alert.urine-scan", {{"volume", *scan->bladder}, {"at", when(*scan->at)}}}, {scan->source}));
      return;
    }
    if (!voided || *voided->voided || !facts_.procedure_end) return;
    const Instant end = *facts_.procedure_end;
    const bool long_ago = clock_.reached(end + p_.alert_urine_urgent.span());
    if (!long_ago && !clock_.reached(end + p_.alert_urine_tell.span())) return;
    found_.push_back(alert_since("urine", long_ago ? AlertLevel::urgent : AlertLevel::tell, {}, end + p_.alert_urine_tell.span(),
                                 {"alert.urine-none", {{"from", end}, {"limit", (long_ago ? p_.alert_urine_urgent : p_.alert_urine_tell).span()}}}, {voided->source}));
  }

  static bool any_heparin(const Administration& a) { return a.agent == Agent::heparin || is_low_molecular_weight_heparin(a.agent); }

  // Stands while it runs and for the procedural look-back after its end.
  void heparin_despite_hit() {
    const bool hit = std::ranges::any_of(facts_.risks, [](const Risk& r) { return r.kind == RiskKind::heparin_induced_thrombocytopenia && r.present; });
    if (!hit) return;
    for (const auto& a : facts_.administrations) {
      if (!any_heparin(a) || !a.start || a.start->latest < facts_.start - p_.procedural_look_back.span()) continue;
      const bool ended = a.end && a.status != AdministrationStatus::in_progress && a.status != AdministrationStatus::on_hold;
      if (ended && clock_.reached(a.end->latest + p_.procedural_look_back.span())) continue;
      found_.push_back(alert_since("heparin-despite-hit", AlertLevel::urgent, {}, a.start->latest,
                                   {a.flush ? "alert.heparin-flush-despite-hit" : "alert.heparin-despite-hit", {{"at", when(*a.start)}}}, {a.source}));
      return;
    }
  }

  /// Heparin must be reckoned with: of some site nobody knows what was given for the procedure, which counts as if an anticoagulant had been.
  bool history_untold() const {
    return std::ranges::any_of(facts_.sites, [&](const SiteFacts& site) { return !anticoagulant_history_gate(SiteEvidence(now_, site))->gate.needs.empty(); });
  }

  // Any heparin counts, a flush too; the highest count before is the baseline.
  void platelet_fall() {
    std::optional<Instant> given;
    for (const auto& a : facts_.administrations)
      if (!given && any_heparin(a) && a.start) given = a.start->latest;  // they stand by time: the first
    const auto recorded = given;
    if (history_untold()) given = Instant::min();
    if (!given) return;
    const Measurement* highest = nullptr;
    Episode signs;
    for (const auto* m : index_.of(Analyte::platelets)) {
      if (!m->value || !m->at) continue;
      const bool after = m->at->latest > *given && m->at->latest >= facts_.start;
      if (after && highest) {
        const auto lost = (highest->value->micro - m->value->micro) * 100, limit = p_.alert_platelet_fall.micro / kMicro * highest->value->micro;
        const bool halved = lost >= limit, low = !m->value->surely_at_least(p_.alert_platelets_gp.micro) && highest->value->micro >= p_.alert_platelets_gp.micro;
        const bool after_recorded = recorded && m->at->latest > *recorded;
        signs.take(sign(*m, halved ? std::optional(AlertLevel::urgent) : low ? std::optional(AlertLevel::tell) : std::nullopt,
                        after_recorded ? halved ? "alert.platelet-fall" : "alert.platelets-after-heparin"
                                       : halved ? "alert.platelet-fall-untold" : "alert.platelets-untold"));
      }
      if (m->value->exact() && (!highest || m->value->micro > highest->value->micro)) highest = m;
    }
    raise("platelet-fall", signs);
  }

  // With a fibrinolytic its gate says so. Without one nobody asked for the value, and no gate rests on it: somebody has to know.
  void fibrinogen() {
    if (std::ranges::any_of(facts_.administrations, [](const Administration& a) { return is_fibrinolytic(a.agent) && !a.flush; })) return;
    Episode signs;
    for (const auto* m : index_.of(Analyte::fibrinogen))
      if (m->value && m->at) signs.take(sign(*m, m->value->surely_at_least(p_.fibrinogen_limit.micro) ? std::nullopt : std::optional(AlertLevel::tell), "alert.fibrinogen-low"));
    raise("fibrinogen-low", signs);
  }

  const Evidence& now_;
  const MeasurementIndex& index_;
  const CaseFacts& facts_;
  const Protocol& p_;
  const Clock& clock_;
  std::vector<const SiteCheck*> checks_;
  std::vector<Alert> found_;
};

}  // namespace

std::vector<Alert> finding_alerts(const Evidence& now) { return FindingWatcher(now).find(); }

}  // namespace clinical
