#include <algorithm>

#include "clinical/alerts.h"
#include "clinical/episodes.h"
#include "clinical/gates.h"
#include "clinical/quantity.h"
#include "clinical/unread.h"

namespace clinical {
namespace {

class PatientWatcher {
 public:
  PatientWatcher(const Evidence& now, LastActCurve& last_curve) : now_(now), facts_(now.facts), p_(now.protocol), last_curve_(last_curve) {}

  std::vector<Alert> find() {
    checks_without_site();
    back_pain();
    systolic();
    heart_rate();
    haemoglobin();
    platelets();
    act();
    std::ranges::move(finding_alerts(now_), std::back_inserter(found_));
    return std::move(found_);
  }

 private:
  std::vector<const Measurement*> values(Analyte analyte) const {
    const auto all = now_.index().of(analyte);
    std::vector<const Measurement*> found;
    found.reserve(all.size());
    for (const auto* m : all)
      if (m->value && m->at && m->at->latest >= facts_.start) found.push_back(m);
    return found;
  }
  static void take(Episode& signs, const Measurement& m, std::optional<AlertLevel> level, const char* code) {
    if (!level) return signs.take_normal(m.at->latest);
    signs.take({m.at->latest, level, {code, {{"value", *m.value}, {"at", when(*m.at)}}}, &m.source});
  }
  void raise(const char* trigger, Episode& signs) {
    if (auto alert = signs.alert(trigger, {})) found_.push_back(std::move(*alert));
  }
  bool sheath_or_hold() const {
    return std::ranges::any_of(facts_.sites, [](const SiteFacts& s) { return !s.t0; });
  }

  // What found trouble is told each by itself, the others together: since the first, with the time of the last.
  void checks_without_site() {
    const SiteCheck *first = nullptr, *last = nullptr;
    std::vector<Source> inputs;
    for (const auto& c : facts_.unplaced_checks) {
      const bool emergency = c.bleeding == Bleeding::bleeding || c.foot_pulse == FootPulse::absent;
      const bool urgent = c.growth.value_or(false) || c.foot_pulse == FootPulse::weaker || (c.swelling && !c.swelling->surely_below(p_.swelling_limit.micro));
      if (emergency || urgent) {
        found_.push_back(alert_since("check-without-site", emergency ? AlertLevel::emergency : AlertLevel::urgent, {}, c.at->latest, {"alert.check-without-site-bad", {{"at", when(*c.at)}}}, {c.source}));
        continue;
      }
      if (!c.unread.empty()) {
        found_.push_back(alert_since("check-without-site", AlertLevel::urgent, {}, c.at->latest, {"alert.check-unread", unread_words(c)}, {c.source}));
        continue;
      }
      if (!first) first = &c;
      last = &c;
      inputs.push_back(c.source);
    }
    if (first) found_.push_back(alert_since("check-without-site", AlertLevel::tell, {}, first->at->latest, {"alert.check-without-site", {{"at", when(*last->at)}}}, std::move(inputs)));
  }

  // A fall is measured from the first reading of the case that lies in the open range: one that was high itself is no baseline.
  bool fallen(const Measurement& m, const std::vector<const Measurement*>& all, Micro by) const {
    const auto baseline = std::ranges::find_if(all, [&](const auto* b) {
      return b->value->exact() && b->value->micro >= p_.systolic_low.micro && b->value->micro < p_.systolic_open_below.micro;
    });
    return baseline != all.end() && (*baseline)->at->latest <= m.at->latest && m.value->exact() && (*baseline)->value->micro - m.value->micro >= by;
  }

  void systolic() {
    const auto all = values(Analyte::systolic);
    Episode low, high;
    for (const auto* m : all) {
      const bool under = !m->value->surely_at_least(p_.systolic_low.micro);
      if (!m->value->surely_at_least(p_.alert_systolic_emergency.micro)) take(low, *m, AlertLevel::emergency, "alert.systolic-very-low");
      else if (under) take(low, *m, AlertLevel::urgent, "alert.systolic-low");
      else if (fallen(*m, all, p_.alert_systolic_fall.micro)) take(low, *m, AlertLevel::urgent, "alert.systolic-fall");
      else take(low, *m, std::nullopt, "");
      take(high, *m, level_of_high(*m), "alert.systolic-high");
    }
    raise("systolic-low", low);
    raise("systolic-high", high);
  }
  std::optional<AlertLevel> level_of_high(const Measurement& m) const {
    if (!m.value->surely_below(p_.alert_systolic_urgent_high.micro)) return AlertLevel::urgent;
    if (!m.value->surely_below(p_.systolic_close.micro)) return sheath_or_hold() ? AlertLevel::urgent : AlertLevel::tell;
    if (!m.value->surely_below(p_.systolic_open_below.micro) && sheath_or_hold()) return AlertLevel::tell;
    return std::nullopt;
  }

  void heart_rate() {
    Episode signs, vagal;
    const auto pressures = values(Analyte::systolic);
    for (const auto* m : values(Analyte::heart_rate)) {
      if (!m->value->surely_at_least(p_.alert_heart_rate_emergency.micro)) take(signs, *m, AlertLevel::emergency, "alert.heart-rate-very-low");
      else if (surely_above(*m->value, p_.alert_heart_rate_high.micro) || !surely_at_most(*m->value, p_.alert_heart_rate_high.micro))
        take(signs, *m, AlertLevel::urgent, "alert.heart-rate-high");
      else if (!m->value->surely_at_least(p_.heart_rate_low_open.micro) && with_symptoms(*m)) take(signs, *m, AlertLevel::urgent, "alert.heart-rate-slow-symptoms");
      else take(signs, *m, std::nullopt, "");
      const bool slow = !m->value->surely_at_least(p_.heart_rate_low_open.micro);
      const bool vasovagal = slow && std::ranges::any_of(pressures, [&](const auto* bp) { return together(*bp, *m) && !bp->value->surely_at_least(p_.systolic_low.micro); });
      take(vagal, *m, vasovagal ? std::optional(AlertLevel::emergency) : std::nullopt, "alert.vasovagal");
    }
    raise("heart-rate", signs);
    raise("vasovagal", vagal);
  }
  // Dizzy or pain in the chest at about the same time.
  bool with_symptoms(const Measurement& m) const {
    const auto checks = checks_by_time();
    return std::ranges::any_of(checks, [&](const SiteCheck* c) {
      return (c->dizziness == true || c->chest_pain == true) && std::chrono::abs(c->at->latest - m.at->latest) <= p_.fresh_heart_rate.span();
    });
  }
  bool together(const Measurement& a, const Measurement& b) const {
    return std::chrono::abs(a.at->latest - b.at->latest) <= p_.pressure_window.span();
  }

  // New back or flank pain with a low or fallen pressure, a fast pulse or a fallen haemoglobin at about the same time.
  void back_pain() {
    const auto pressures = values(Analyte::systolic), rates = values(Analyte::heart_rate);
    const auto near = [&](const SiteCheck& c, const Measurement& m) { return std::chrono::abs(c.at->latest - m.at->latest) <= p_.fresh_pressure.span(); };
    const auto bleeds = [&](const SiteCheck& c) {
      const bool low = std::ranges::any_of(pressures, [&](const auto* m) {
        return near(c, *m) && (!m->value->surely_at_least(p_.systolic_low.micro) || fallen(*m, pressures, p_.alert_systolic_fall.micro));
      });
      const bool fast = std::ranges::any_of(rates, [&](const auto* m) { return near(c, *m) && !surely_at_most(*m->value, p_.alert_heart_rate_bleed.micro); });
      return low || fast || haemoglobin_fall() >= p_.alert_haemoglobin_urgent.micro;
    };
    const auto calm = [&](const SiteCheck& c) {
      const bool pressure = std::ranges::any_of(pressures, [&](const auto* m) { return near(c, *m) && m->value->surely_at_least(p_.systolic_low.micro); });
      const bool rate = std::ranges::any_of(rates, [&](const auto* m) { return near(c, *m) && surely_at_most(*m->value, p_.alert_heart_rate_bleed.micro); });
      return pressure && rate && !bleeds(c);
    };
    Episode signs;
    for (const auto* c : checks_by_time()) {
      if (c->at->latest < facts_.start || !(c->back_pain || c->of_a_groin())) continue;
      // A check that does not speak of the back says nothing of it; it ends the suspicion only beside a pressure and a pulse that are good.
      if (!c->back_pain && signs.open() && !calm(*c)) continue;
      if (c->back_pain && bleeds(*c)) signs.take({c->at->latest, AlertLevel::emergency, {"alert.retroperitoneal-bleed", {{"at", when(*c->at)}}}, &c->source});
      else signs.take(normal_at(c->at->latest));
    }
    raise("retroperitoneal-bleed", signs);
  }

  std::vector<const SiteCheck*> checks_by_time() const {
    std::vector<const SiteCheck*> checks;
    for (const auto& site : facts_.sites)
      for (const auto& c : site.checks) checks.push_back(&c);
    for (const auto& c : facts_.unplaced_checks) checks.push_back(&c);
    std::ranges::stable_sort(checks, {}, [](const SiteCheck* c) { return c->at->latest; });
    return checks;
  }

  struct Fall {
    const Measurement *from = nullptr, *to = nullptr;
  };
  Fall newest_fall() const {
    Fall fall;
    for (const auto* m : now_.index().of(Analyte::haemoglobin)) {
      if (!m->value || !m->value->exact() || !m->at) continue;
      if (m->at->latest < facts_.start - p_.haemoglobin_baseline.span()) continue;
      if (!fall.from || m->value->micro > fall.from->value->micro) fall.from = m;
      fall.to = m;  // they stand by time: the last
    }
    if (fall.to && fall.to->at->latest < facts_.start) fall.to = nullptr;
    return fall;
  }
  Micro haemoglobin_fall() const {
    const auto fall = newest_fall();
    return fall.to ? fall.from->value->micro - fall.to->value->micro : 0;
  }
  void haemoglobin() {
    const auto fall = newest_fall();
    if (!fall.to || haemoglobin_fall() < p_.alert_haemoglobin_urgent.micro) return;
    const bool severe = haemoglobin_fall() >= p_.alert_haemoglobin_emergency.micro;
    found_.push_back(alert_since("haemoglobin-fall", severe ? AlertLevel::emergency : AlertLevel::urgent, {}, fall.to->at->latest,
                                 {"alert.haemoglobin-fall", {{"from", *fall.from->value}, {"to", *fall.to->value}, {"fall", computed(haemoglobin_fall(), "g/dL")}}},
                                 {fall.from->source, fall.to->source}));
  }

  void platelets() {
    const auto gp = std::ranges::find_if(facts_.administrations, [](const Administration& a) { return is_gp_inhibitor(a.agent) && !a.flush; });
    if (gp == facts_.administrations.end()) return;
    Episode signs;
    for (const auto* m : values(Analyte::platelets))
      take(signs, *m, m->value->surely_at_least(p_.alert_platelets_gp.micro) ? std::nullopt : std::optional(AlertLevel::urgent), "alert.platelets-with-gp-inhibitor");
    raise("platelets-with-gp-inhibitor", signs);
  }

  // Not fallen at two draws after the first since the last heparin, or still over the limit when the pull was expected.
  void act() {
    for (const auto& site : facts_.sites)
      if (site.sheath_out && !site.t0) act_at_pull(*site.sheath_out);
    const bool sheath_in = std::ranges::any_of(facts_.sites, [](const SiteFacts& s) { return !s.out(); });
    if (!sheath_in) return;
    Instant last_dose = Instant::min();
    for (const auto& a : facts_.administrations)
      if (a.agent == Agent::heparin && !a.flush && a.start) last_dose = std::max(last_dose, a.end ? a.end->latest : a.start->latest);
    auto draws = values(Analyte::act);
    std::erase_if(draws, [&](const auto* m) { return m->at->earliest <= last_dose; });
    if (draws.size() < 2 || draws.back()->value->surely_below(p_.act_limit.micro)) return;
    const auto& newest = *draws.back();
    const bool fell = draws.size() < 3 || draws[draws.size() - 2]->value->micro < draws[draws.size() - 3]->value->micro ||
                      newest.value->micro < draws[draws.size() - 2]->value->micro;
    if (fell && !expected_under_limit_by(newest)) return;
    const bool urgent = !newest.value->surely_below(p_.alert_act_urgent.micro);
    found_.push_back(alert_since("act-high", urgent ? AlertLevel::urgent : AlertLevel::tell, {}, newest.at->latest,
                                 {fell ? "alert.act-high-at-pull" : "alert.act-not-falling", {{"value", *newest.value}, {"at", when(*newest.at)}}}, {newest.source}));
  }

  // Pulled over the limit: until haemostasis it is told, then the site is watched more closely.
  void act_at_pull(Instant out) {
    const auto draws = values(Analyte::act);
    const Measurement* newest = nullptr;
    for (const auto* m : draws)
      if (m->at->latest <= out && m->at->latest + p_.fresh_act.span() >= out) newest = m;
    if (!newest || newest->value->surely_below(p_.act_limit.micro)) return;
    const bool urgent = !newest->value->surely_below(p_.alert_act_urgent.micro);
    found_.push_back(alert_since("act-high", urgent ? AlertLevel::urgent : AlertLevel::tell, {}, out,
                                 {"alert.act-high-pulled", {{"value", *newest->value}, {"at", when(*newest->at)}, {"out", out}}}, {newest->source}));
  }

  // By what was known just before that draw.
  bool expected_under_limit_by(const Measurement& draw) const {
    const Instant before = draw.at->earliest - seconds{1};
    const Clock then(before);
    const auto projected = project_act(Evidence(now_, then, before), last_curve_);
    return projected && projected->p50 && *projected->p50 <= draw.at->latest;
  }

  const Evidence& now_;
  const CaseFacts& facts_;
  const Protocol& p_;
  LastActCurve& last_curve_;
  std::vector<Alert> found_;
};

}  // namespace

std::vector<Alert> patient_alerts(const Evidence& now, LastActCurve& last_curve) { return PatientWatcher(now, last_curve).find(); }

}  // namespace clinical
