#include "clinical/alerts.h"

#include <algorithm>

#include "clinical/decision.h"
#include "clinical/episodes.h"
#include "clinical/names.h"
#include "clinical/unread.h"

namespace clinical {
namespace {

/// What one check says to a trigger. level null: normal.
struct Finding {
  std::optional<AlertLevel> level;
  const char* code = "";
  const Value* score = nullptr;
};

class SiteWatcher {
 public:
  explicit SiteWatcher(const SiteCourseNow& now) : now_(now), view_(now.view), site_(now.view.site), p_(now.view.protocol), clock_(now.view.clock) {}

  std::vector<Alert> find() {
    from_checks();
    if (const auto* check = unread_check(site_.checks); check && check->at->latest >= view_.facts.start)
      found_.push_back(alert_since("check-unread", AlertLevel::urgent, site_.key, check->at->latest, {"alert.check-unread", unread_words(*check)}, {check->source}));
    rebleed_question();
    course();
    times();
    return std::move(found_);
  }

 private:
  template <class Judge>  // std::optional<Finding> of a SiteCheck; none: it says nothing to the trigger
  void episode(const char* trigger, const Judge& judge) {
    Episode signs;
    for (const auto& check : site_.checks) {
      if (check.at->latest < view_.facts.start) continue;
      const std::optional<Finding> found = judge(check);
      if (found && found->level) signs.take(sign(check, *found));
      else if (found) signs.take_normal(check.at->latest);
    }
    if (auto alert = signs.alert(trigger, site_.key)) found_.push_back(std::move(*alert));
  }
  static Sign sign(const SiteCheck& check, const Finding& found) {
    Reason why{found.code, {{"at", when(*check.at)}}};
    if (check.swelling) why.arguments.emplace_back("size", *check.swelling);
    if (found.score) why.arguments.emplace_back("score", *found.score);
    return {check.at->latest, found.level, std::move(why), &check.source};
  }

  void from_checks() {
    episode("site-bleeding", [](const SiteCheck& c) -> std::optional<Finding> {
      if (c.bleeding == Bleeding::bleeding) return Finding{AlertLevel::emergency, "alert.site-bleeding"};
      return c.bleeding && !c.wet_dressing ? std::optional(Finding{}) : std::nullopt;
    });
    episode("swelling", [&](const SiteCheck& c) { return swelling(c); });
    if (found_.empty() || found_.back().trigger != "swelling") episode("swelling-small", [&](const SiteCheck& c) { return small_swelling(c); });
    bool by_signs = false;
    episode("limb-ischaemia", [&](const SiteCheck& c) { return limb(c, by_signs); });
    episode("foot-pulse-weaker", [](const SiteCheck& c) { return against_baseline(c.foot_pulse, FootPulse::weaker, AlertLevel::urgent, "alert.foot-pulse-weaker"); });
    episode("limb-weakness", [](const SiteCheck& c) {
      return against_baseline(worse(c.feeling, c.movement), FootPulse::weaker, AlertLevel::urgent, "alert.limb-weakness");
    });
    episode("mass-or-bruit", [](const SiteCheck& c) { return yes_or_no(c.mass_or_bruit, "alert.mass-or-bruit"); });
    episode("skin-under-device", [](const SiteCheck& c) { return yes_or_no(c.skin_damage, "alert.skin-under-device"); });
    episode("pain", [&](const SiteCheck& c) -> std::optional<Finding> {
      if (!c.pain) return std::nullopt;
      return c.pain->surely_below(p_.alert_pain.micro) ? Finding{} : Finding{AlertLevel::urgent, "alert.pain", &*c.pain};
    });
  }
  static std::optional<FootPulse> worse(const std::optional<FootPulse>& a, const std::optional<FootPulse>& b) { return std::max(a, b); }
  static std::optional<Finding> yes_or_no(const std::optional<bool>& found, const char* code) {
    if (!found) return std::nullopt;
    return *found ? Finding{AlertLevel::urgent, code} : Finding{};
  }
  // No pulse, no feeling, no movement; or paler or colder than before.
  // What feeling, movement, colour or warmth has raised no check ends that is silent about them.
  static std::optional<Finding> limb(const SiteCheck& c, bool& by_signs) {
    if (c.foot_pulse == FootPulse::absent) return Finding{AlertLevel::emergency, "alert.limb-ischaemia"};
    const bool pale_or_cold = worse(c.colour, c.warmth).value_or(FootPulse::as_baseline) != FootPulse::as_baseline;
    if (pale_or_cold || worse(c.feeling, c.movement) == FootPulse::absent) {
      by_signs = true;
      return Finding{AlertLevel::emergency, "alert.limb-signs"};
    }
    if (by_signs && !(c.feeling && c.movement && (c.colour || c.warmth))) return std::nullopt;
    return c.foot_pulse == FootPulse::as_baseline ? std::optional(Finding{}) : std::nullopt;
  }
  // A wet check after T0 asks a question that dry checks do not answer: pressing recorded since then (which voids that T0), haemostasis confirmed
  // again (which moves it), or a named person's decision on check-site that quotes what was seen. Blood unanswered keeps the patient flat.
  void rebleed_question() {
    if (!site_.t0) return;
    const SiteCheck *first = nullptr, *worst = nullptr;
    std::vector<Source> inputs;
    for (const auto& check : site_.checks) {
      if (!check.wet() || check.at->latest < *site_.t0 || answered(check)) continue;
      if (!first) first = &check;
      if (!worst || check.bleeding >= worst->bleeding) worst = &check;
      inputs.push_back(check.source);
    }
    if (!first) return;
    const bool blood = worst->bleeding == Bleeding::bleeding;
    found_.push_back(alert_since("rebleed-question", blood ? AlertLevel::urgent : AlertLevel::tell, site_.key, first->at->latest,
                                 {blood ? "alert.rebleed-question-blood" : "alert.rebleed-question", {{"at", when(*worst->at)}}}, std::move(inputs)));
  }
  bool answered(const SiteCheck& wet) const {
    const std::string_view seen = wet.bleeding == Bleeding::bleeding ? "bleeding" : "ooze";
    return std::ranges::any_of(view_.facts.decisions, [&](const Decision& d) {
      return d.subject == name_of(Step::check_site) && !withdrawn(d, view_.facts.decisions) && !d.performer.empty() && d.at && d.at->exact() && d.at->latest >= wet.at->latest && d.value_seen == seen;
    });
  }
  std::optional<Finding> swelling(const SiteCheck& c) const {
    if (!c.swelling && !c.growth) return std::nullopt;
    const bool huge = c.swelling && !c.swelling->surely_below(p_.alert_swelling_emergency.micro);
    const bool large = c.swelling && !c.swelling->surely_below(p_.swelling_limit.micro);
    if (huge) return Finding{AlertLevel::emergency, "alert.swelling-very-large"};
    if (large) return Finding{AlertLevel::urgent, "alert.swelling-large"};
    if (c.growth.value_or(false)) return Finding{AlertLevel::urgent, "alert.swelling-grows"};
    return c.swelling && c.growth ? std::optional(Finding{}) : std::nullopt;
  }
  // Under the limit and not growing: the physician is told, and nothing waits for it.
  std::optional<Finding> small_swelling(const SiteCheck& c) const {
    if (!c.swelling || !c.swelling->surely_below(p_.swelling_limit.micro) || c.growth.value_or(false)) return std::nullopt;
    return c.swelling->micro > 0 ? Finding{AlertLevel::tell, "alert.swelling-small"} : Finding{};
  }
  // Only what is as the baseline is normal: a weaker one does not end an episode of an absent one.
  static std::optional<Finding> against_baseline(const std::optional<FootPulse>& seen, FootPulse bad, AlertLevel level, const char* code) {
    if (seen == bad) return Finding{level, code};
    return seen == FootPulse::as_baseline ? std::optional(Finding{}) : std::nullopt;
  }

  // A rebleed stays open until two dry checks after the haemostasis that followed it.
  void course() {
    if (!site_.rebleeds.empty()) {
      const Instant last = site_.rebleeds.back();
      const auto dry = !site_.t0 ? 0 : std::ranges::count_if(site_.checks, [&](const SiteCheck& c) {
        return c.at->latest >= *site_.t0 && c.bleeding == Bleeding::none && !c.wet();
      });
      const auto times = static_cast<std::int64_t>(site_.rebleeds.size());
      if (dry < 2)
        found_.push_back(alert_since("rebleed", times > 1 ? AlertLevel::urgent : AlertLevel::tell, site_.key, last,
                                     {times > 1 ? "alert.rebleed-again" : "alert.rebleed", {{"at", last}, {"times", times}}}, {}));
    }
    closure_failed();
    if (now_.early_haemostasis)
      found_.push_back(alert_since("early-haemostasis", AlertLevel::tell, site_.key, *site_.t0,
                                   {"alert.early-haemostasis", {{"at", *site_.t0}, {"planned", seconds{now_.hold.total}}}}, {site_.holds.back().source}));
    early();
    if (const auto& end = view_.facts.discharge; end && (!site_.t0 || *end < *site_.t0))
      found_.push_back(alert_since("discharge-early", AlertLevel::urgent, site_.key, *end, {"alert.discharge-early", {{"at", *end}}}, {}));
    const bool pressed = site_.out() && !site_.t0;
    if (now_.withheld)
      found_.push_back(alert_since("timeline-withheld", pressed ? AlertLevel::urgent : AlertLevel::tell, site_.key, view_.facts.start, *now_.withheld, {view_.facts.index.source}));
  }

  // As a rebleed until two dry looks after the haemostasis that followed.
  void closure_failed() {
    const auto dry = !site_.t0 ? 0 : std::ranges::count_if(site_.checks, [&](const SiteCheck& c) { return c.at->latest >= *site_.t0 && c.bleeding == Bleeding::none && !c.wet(); });
    if (dry >= 2) return;
    if (const auto& late = site_.failed_late)
      found_.push_back(alert_since("closure-failed", site_.t0 ? AlertLevel::tell : AlertLevel::urgent, site_.key, late->at->latest,
                                   {site_.t0 ? "alert.closure-failed-dry" : "alert.closure-failed", {{"at", late->at->latest}}}, {late->source}));
    else if (const auto& held = site_.held_long)
      found_.push_back(alert_since("closure-failed", AlertLevel::tell, site_.key, held->first_start,
                                   {held->implied ? "alert.closure-dry-late" : "alert.closure-held-long", {{"from", held->first_start}, {"length", *held->end - held->first_start}}}, {held->source}));
  }

  // Until two looks after it found nothing; up before haemostasis, until two after that. Of several of a step the last, and the first that came before haemostasis.
  void early() {
    for (const auto& [step, trigger] : {std::pair(Step::raise_head, "head-early"), std::pair(Step::sit_up, "sat-early"), std::pair(Step::stand_and_walk, "up-early"),
                                        std::pair(Step::discharge_check, "discharge-check-early")}) {
      const EarlyStep* told = nullptr;
      for (const auto& e : now_.early)
        if (e.step == step && stands(e) && !(told && told->when != EarlyStep::When::before_clock)) told = &e;
      if (told) found_.push_back(alert_since(trigger, level_of(*told), site_.key, told->at, said(*told), {}));
    }
  }
  bool stands(const EarlyStep& e) const {
    if (looked_well_after(e, e.at) < 2) return true;
    return e.when != EarlyStep::When::before_clock && !(site_.t0 && looked_well_after(e, std::max(e.at, *site_.t0)) >= 2);
  }
  AlertLevel level_of(const EarlyStep& e) const {
    const bool up = e.step == Step::sit_up || e.step == Step::stand_and_walk;
    return up && e.when != EarlyStep::When::before_clock && looked_well_after(e, e.at) < 2 ? AlertLevel::urgent : AlertLevel::tell;
  }
  static Reason said(const EarlyStep& e) {
    const bool head = e.step == Step::raise_head, sat = e.step == Step::sit_up, walked = e.step == Step::stand_and_walk;
    if (e.when == EarlyStep::When::sheath_in) return {head ? "alert.head-with-sheath" : sat ? "alert.sat-with-sheath" : "alert.up-with-sheath", {{"at", e.at}}};
    if (e.when == EarlyStep::When::being_pressed)
      return {head ? "alert.head-before-haemostasis" : sat ? "alert.sat-before-haemostasis" : "alert.up-before-haemostasis", {{"at", e.at}}};
    if (!e.from) return {sat ? "alert.sat-untimed" : "alert.up-early", {{"at", e.at}}};
    return {head ? "alert.head-early" : sat ? "alert.sat-early" : walked ? "alert.up-early" : "alert.discharge-check-early", {{"at", e.at}, {"from", *e.from}}};
  }
  // Before haemostasis only whole looks count: at the groin, for a swelling and at the foot.
  int looked_well_after(const EarlyStep& e, Instant from) const {
    const bool whole = e.when != EarlyStep::When::before_clock;
    int looks = 0;
    std::optional<Instant> last;
    for (const auto& c : site_.checks) {
      const bool dry = c.bleeding == Bleeding::none && !c.wet();
      const bool well = whole ? dry && c.complete() && !*c.growth && *c.foot_pulse == FootPulse::as_baseline : dry;
      if (c.at->latest < from || !well || last == c.at->latest) continue;
      last = c.at->latest;
      ++looks;
    }
    return looks;
  }

  // Compression ended alone, or its planned end is past by more than a late check may be.
  std::optional<Instant> haemostasis_missing_since() const {
    if (site_.t0 || site_.holds.empty() || !site_.out() || now_.withheld) return std::nullopt;
    const auto& hold = site_.holds.back();
    const Instant end = hold.end.value_or(hold.start + now_.hold.total);
    return clock_.still(end + p_.check_late.span()) ? std::nullopt : std::optional(end);
  }

  void times() {
    if (!site_.t0 && !site_.holds.empty() && !site_.holds.back().end && now_.hold.method == Closure::mechanical) {
      const auto& hold = site_.holds.back();
      const minutes longest = now_.hold_ordered ? now_.hold.total : p_.device_total.whole_minutes();
      if (!clock_.still(hold.first_start + longest))
        found_.push_back(alert_since("device-total", AlertLevel::urgent, site_.key, hold.first_start,
                                     {"alert.device-total", {{"from", hold.first_start}, {"limit", seconds{longest}}}}, {hold.source}));
    }
    if (const auto from = haemostasis_missing_since())
      found_.push_back(alert_since("timeline-withheld", AlertLevel::tell, site_.key, *from, {"alert.haemostasis-missing", {{"from", *from}}}, {site_.holds.back().source}));
    const auto& ended = view_.facts.procedure_end;
    if (!site_.out() && ended && !clock_.still(*ended + p_.alert_sheath_dwell.span()))
      found_.push_back(alert_since("sheath-dwell", AlertLevel::tell, site_.key, *ended,
                                   {"alert.sheath-dwell", {{"from", *ended}, {"limit", p_.alert_sheath_dwell.span()}}}, {view_.facts.index.source}));
    if (now_.watch.missed_in_row > 0) {
      const Instant first = *now_.watch.first_missed;
      const bool several = now_.watch.missed_in_row > 1;
      found_.push_back(alert_since("missed-check", several ? AlertLevel::urgent : AlertLevel::tell, site_.key, first,
                                   {!several ? "alert.missed-check" : now_.watch.made_since > 0 ? "alert.missed-checks-made-since" : "alert.missed-checks", {{"at", first}}}, {}));
    }
  }

  const SiteCourseNow& now_;
  const SiteView& view_;
  const SiteFacts& site_;
  const Protocol& p_;
  const Clock& clock_;
  std::vector<Alert> found_;
};

}  // namespace

std::vector<Alert> site_alerts(const SiteCourseNow& now) { return SiteWatcher(now).find(); }

std::optional<Alert> left_in_rest(const SiteView& view, Instant until) {
  const auto& end = view.facts.discharge;
  if (!end || !view.site.t0 || *end < *view.site.t0 || *end >= until) return std::nullopt;
  return alert_since("discharge-in-rest", AlertLevel::tell, view.site.key, *end, {"alert.discharge-in-rest", {{"at", *end}, {"until", until}}}, {});
}

std::optional<Instant> raised_again(Instant since, const Protocol& p, const Clock& clock) {
  const seconds each = p.alert_repeat.span();
  const auto times = (clock.now() - since) / each;
  clock.note(since + (std::max<std::int64_t>(times, 0) + 1) * each);
  return times > 0 ? std::optional(since + times * each) : std::nullopt;
}

}  // namespace clinical
