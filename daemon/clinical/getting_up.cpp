#include "clinical/getting_up.h"

#include <algorithm>
#include <utility>

#include "clinical/early_steps.h"
#include "clinical/in_rest.h"
#include "clinical/names.h"
#include "clinical/site_steps.h"
#include "clinical/tally.h"
#include "clinical/unread.h"
#include "clinical/worst_value.h"

namespace clinical {
namespace {

// What one site still lacks before its clock can be given.
std::optional<Reason> lacks(const RestingSite& resting) {
  const auto& work = *resting.work;
  if (auto held = work.rest_held()) return held;
  if (work.site().t0) return std::nullopt;
  return Reason{work.site().out() ? "rest.after-haemostasis" : "rest.sheath-in", {}};
}

void take_later(std::optional<Instant>& latest, Instant at) {
  if (!latest || at > *latest) latest = at;
}

// What was done after the end of a case belongs to a later one.
std::optional<Instant> done(const std::vector<RestingSite>& sites, Step step, Instant since) {
  for (const auto& s : sites) {
    const auto& facts = s.work->view.facts;
    if (const auto at = completed(facts, nullptr, step, since); at && *at <= *facts.case_end) return at;  // with every T0 it has one
  }
  return std::nullopt;
}

std::optional<Reason> check_not_good(const SiteWork& work, const Clock& clock) {
  const auto& p = work.view.protocol;
  const auto& checks = work.site().checks;
  const Reason missing{"rest.check-not-fresh", {{"limit", p.fresh_site_check.span()}}};
  const auto look = std::find_if(checks.rbegin(), checks.rend(), [](const SiteCheck& c) { return c.of_a_groin(); });
  if (look == checks.rend()) return missing;
  // Of several at that time the worst counts, and no order of the record.
  std::vector<const SiteCheck*> last;
  for (const auto& c : checks)
    if (c.of_a_groin() && *c.at == *look->at) last.push_back(&c);
  const auto any = [&](const auto& says) { return std::ranges::any_of(last, [&](const SiteCheck* c) { return says(*c); }); };
  const Argument at = when(*look->at);
  if (any([](const SiteCheck& c) { return c.wet(); })) return Reason{"rest.not-dry", {{"at", at}}};
  if (any([&](const SiteCheck& c) { return c.growth.value_or(false) || (c.swelling && !c.swelling->surely_below(p.swelling_limit.micro)); }))
    return Reason{"rest.swelling-now", {{"at", at}}};
  if (any([](const SiteCheck& c) { return c.foot_pulse.value_or(FootPulse::as_baseline) != FootPulse::as_baseline; })) return Reason{"rest.foot-pulse", {{"at", at}}};
  if (const auto* unread = unread_check(checks)) return Reason{"rest.check-unread", unread_words(*unread)};
  if (!any([](const SiteCheck& c) { return c.complete(); }) || !clock.still(look->at->earliest + p.fresh_site_check.span())) return missing;
  return std::nullopt;
}

/// The newest of a test from `since` on has no value that can be read or be: what is older does not stand in for it, as at the pull.
std::optional<Reason> newest_unusable(const SiteView& view, Analyte analyte, Instant since) {
  const Instant until = view.clock.now() + view.protocol.future_tolerance.span();
  const Measurement *newest = nullptr, *unusable = nullptr;
  for (const auto* m : view.now.index().of(analyte)) {
    if (!m->at || m->at->latest < since || m->at->latest > until) continue;
    if (!newest || m->at->latest > newest->at->latest) newest = m;
    if (!m->value && (!unusable || m->at->latest > unusable->at->latest)) unusable = m;
  }
  if (!unusable || unusable->at->latest < newest->at->latest) return std::nullopt;
  const auto& recorded = unusable->impossible.empty() ? unusable->unread : unusable->impossible;
  return Reason{"rest.unusable-value", {{"what", term("analyte", name_of(analyte))}, {"value", Value{0, Comparator::none, recorded.empty() ? "-" : recorded}}, {"at", when(*unusable->at)}}};
}

std::optional<Reason> value_unusable(const SiteView& view) {
  if (auto why = newest_unusable(view, Analyte::systolic, view.facts.start)) return why;
  if (auto why = newest_unusable(view, Analyte::haemoglobin, view.facts.start)) return why;
  return view.site.t0 ? newest_unusable(view, Analyte::act, *view.site.t0) : std::nullopt;  // what was drawn before it spoke for the pull
}

std::optional<Reason> pressure_not_good(const SiteView& view) {
  const auto& p = view.protocol;
  const auto readings = pressures_at(view, Analyte::systolic, view.clock.now());
  if (readings.empty()) return Reason{"rest.pressure-not-fresh", {{"limit", p.fresh_pressure.span()}}};
  for (const auto* m : readings)
    if (!m->value->surely_at_least(p.systolic_low.micro) || !m->value->surely_below(p.systolic_close.micro))
      return Reason{"rest.pressure", {{"value", *m->value}, {"at", when(*m->at)}}};
  return std::nullopt;
}

}  // namespace

GettingUp getting_up(const std::vector<RestingSite>& sites) {
  GettingUp up;
  for (const auto& s : sites) {
    if (up.held) break;
    if (auto why = lacks(s)) {
      up.held = std::move(why);
      up.held_by = s.work;
    }
  }
  for (const auto& s : sites)
    if (s.work->site().t0) take_later(up.last_t0, *s.work->site().t0);
  const bool all = up.last_t0 && std::ranges::all_of(sites, [](const RestingSite& s) { return s.work->site().t0.has_value(); });
  if (all) {
    up.walked = done(sites, Step::stand_and_walk, *up.last_t0);
    up.sat = done(sites, Step::sit_up, *up.last_t0);
    up.raised = done(sites, Step::raise_head, *up.last_t0);
    up.discharged = done(sites, Step::discharge_check, *up.last_t0);
  }
  if (!all) return up;
  std::optional<Instant> floor;
  const auto in_time = [&](Instant walk) {
    return std::ranges::all_of(sites, [&](const RestingSite& s) { return walk >= *s.work->site().t0 + length_for(s.work->rest, walk); });
  };
  const bool permitted = std::ranges::none_of(sites, [](const RestingSite& s) { return no_time_permits(*s.work); });
  if (up.walked && (!permitted || !in_time(*up.walked))) {
    up.walked_early = up.walked;
    while (up.walked && !(permitted && in_time(*up.walked))) up.walked = done(sites, Step::stand_and_walk, *up.walked + seconds{1});
  }
  if (up.held) return up;
  seconds after{};
  for (const auto& s : sites) {
    const Instant t0 = *s.work->site().t0;
    const auto& rest = s.work->rest;
    if (!up.walk || t0 + rest.walk > *up.walk) up.up_site = s.work->site().key;
    take_later(up.head, t0 + rest.head);
    take_later(up.sit, t0 + rest.sit);
    take_later(up.walk, t0 + rest.walk);
    const auto& p = s.work->view.protocol;
    take_later(up.discharge, t0 + rest.discharge);
    take_later(floor, t0 + discharge_floor(s.work->view));
    after = p.discharge_after_walk.span();
  }
  if (up.walked) up.discharge = std::max(*up.walked + after, *floor);
  // A check counts from a little before its time on; one from before that leaves the discharge check to do.
  const Instant counts = *up.discharge - sites.front().work->view.protocol.check_early.span();
  if (up.discharged && *up.discharged < counts) {
    up.discharged_early = up.discharged;
    up.discharged = done(sites, Step::discharge_check, counts);
  }
  return up;
}

std::vector<Instant> clock_times(const GettingUp& up) {
  std::vector<Instant> times;
  for (const auto& at : {up.head, up.sit, up.walk})
    if (at && !(up.walked && *at > *up.walked)) times.push_back(*at);
  if (up.discharge) times.push_back(*up.discharge);
  return times;
}

std::optional<Reason> not_ready(const std::vector<RestingSite>& sites, const std::vector<Alert>& patient, const Clock& clock) {
  for (const auto& s : sites)
    if (auto why = check_not_good(*s.work, clock)) return why;
  for (const auto& s : sites)
    if (auto why = value_unusable(s.work->view)) return why;
  for (const auto& s : sites)
    if (auto why = pressure_not_good(s.work->view)) return why;
  const auto open = [](const std::vector<Alert>& alerts) -> std::optional<Reason> {
    for (const auto& a : alerts)
      if (auto asks = asks_prescriber(a)) return asks;
      else if (a.level != AlertLevel::tell || a.trigger == "orthostatic") return Reason{"rest.alert", {{"alert", term("alert", a.trigger)}}};
    return std::nullopt;
  };
  for (const auto& s : sites) {
    if (s.work->watch.missed_in_row >= 2) return Reason{"rest.missed-checks", {}};
    if (auto why = open(s.work->alerts)) return why;
  }
  return open(patient);
}

namespace {

struct StepClock {
  Step step;
  std::optional<Instant> at, actual;
  minutes after{};
};

Basis sum_line(const SiteWork& work, Instant at, minutes after) {
  return {"rest.sum", "derived: the sum of the lines above", {}, {"sum.rest", {{"from", *work.site().t0}, {"length", seconds{after}}, {"to", at}}}};
}

void add_basis(Milestone& m, const SiteWork& work, const GettingUp& up, const StepClock& clock) {
  const auto& rest = work.rest;
  const auto& lines = m.step == Step::raise_head ? rest.head_basis : rest.basis;
  m.basis.reserve(lines.size() + 3);
  m.basis.assign(lines.begin(), lines.end());
  if (m.step == Step::sit_up) m.basis.push_back(rest.sit_line);
  if (m.step == Step::discharge_check) m.basis.push_back(rest.discharge_line);
  if (!work.site().t0 || !clock.at) return;
  const Instant own = *work.site().t0 + clock.after;
  m.basis.push_back(sum_line(work, own, clock.after));
  if (own != *clock.at && !(up.walked && m.step == Step::discharge_check))
    m.basis.push_back({"rest.latest", "derived: the patient gets up when the latest site allows it", {}, {"rest.latest-site", {{"at", *clock.at}}}});
}

// The old, and those closed by a device after a large sheath, walk with two people.
bool two_for_the_walk(const SiteWork& work) {
  const bool large = work.view.closed_by_device() && work.view.french().value_or(9) >= 9;
  return large || std::ranges::any_of(work.modifiers, [](const Modifier& m) { return m.name == "age"; });
}

// Withheld: blocked. No T0 at this site yet: only the length is known. T0 here, but another site is not ready: blocked.
void place(Milestone& m, const SiteWork& work, const GettingUp& up, const StepClock& clock, const std::optional<Reason>& not_ready) {
  if (clock.actual) {
    m.status = StepStatus::done;
    m.actual = clock.actual;
    const bool head_or_sit = m.step == Step::raise_head || m.step == Step::sit_up;
    if (head_or_sit && clock.at && *clock.actual < *clock.at) m.why = Reason{"rest.done-early", {{"at", *clock.actual}, {"from", *clock.at}}};
  } else if (up.walked && m.step != Step::discharge_check) {
    m.status = StepStatus::cancelled;
    m.why = Reason{"rest.walked", {{"at", *up.walked}}};
  } else if (auto held = work.rest_held()) {
    m.why = std::move(held);
  } else if (!work.site().t0) {
    m.status = StepStatus::expected;
    m.why = Reason{work.site().out() ? "rest.after-haemostasis" : "rest.sheath-in", {}};
  } else if (!clock.at) {
    m.why = Reason{"rest.other-site", {{"side", side_term(up.held_by->view)}}};
  } else {
    set_clock(m, *clock.at, work.view.clock);
    if (m.step == Step::stand_and_walk && two_for_the_walk(work)) m.why = Reason{"rest.two-people", {}};
    if (m.status != StepStatus::due) return;
    std::optional<Reason> why = not_ready;
    if (!why && m.step == Step::discharge_check && !up.walked) why = Reason{"rest.not-walked", {}};
    if (!why) return;
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.why = std::move(why);
  }
}

}  // namespace

std::vector<Milestone> getting_up_steps(const SiteWork& work, const GettingUp& up, const std::optional<Reason>& not_ready) {
  const auto& rest = work.rest;
  std::vector<Milestone> steps;
  for (const auto& clock : {StepClock{Step::raise_head, up.head, up.raised, rest.head}, StepClock{Step::sit_up, up.sit, up.sat, rest.sit},
                            StepClock{Step::stand_and_walk, up.walk, up.walked, rest.walk},
                            StepClock{Step::discharge_check, up.discharge, up.discharged, rest.discharge}}) {
    Milestone m = milestone(clock.step);
    if (!work.scope) {
      m.planned = m.after_t0 = clock.after;
      add_basis(m, work, up, clock);
    }
    place(m, work, up, clock, not_ready);
    const bool walk = m.step == Step::stand_and_walk;
    const auto& early = walk ? up.walked_early : up.discharged_early;
    const bool again = (walk || m.step == Step::discharge_check) && early;
    if (again) m.ordinal = 1;
    steps.push_back(std::move(m));
    if (!again) continue;
    Milestone before = milestone(clock.step, Reason{walk ? (up.held ? "alert.up-early" : "rest.walked-early") : "rest.discharge-checked-early", {{"at", *early}}});
    before.status = StepStatus::done;
    before.actual = early;
    steps.push_back(std::move(before));
  }
  return steps;
}

namespace {

// The check of the walk itself is the site's.
std::vector<Milestone> checks_after_walk(const SiteWork& work, const GettingUp& up) {
  const auto& p = work.view.protocol;
  std::vector<Milestone> steps;
  minutes before{0};
  for (const auto* setting : {&p.check_after_walk_1, &p.check_after_walk_2, &p.check_after_walk_3}) {
    const minutes after = setting->whole_minutes(), gap = after - std::exchange(before, after);
    Milestone m = milestone(Step::check_after_walk);
    m.ordinal = static_cast<int>(steps.size()) + 1;
    m.basis.push_back({setting->rule.key, setting->rule.source, {}, {"watch.after-walk", {{"after", seconds{after}}}}});
    const auto base = up.walked ? up.walked : up.walk;
    if (auto held = work.rest_held(); held && !up.walked) m.why = std::move(held);
    else if (!base) m.why = Reason{"rest.not-walked", {}};
    if (!work.scope) m.after_t0 = work.rest.walk + after;
    if (m.why) {
      if (!work.rest_held()) m.status = StepStatus::expected;
      steps.push_back(std::move(m));
      continue;
    }
    const Instant at = *base + after;
    const auto check = std::ranges::find_if(work.site().checks, [&](const SiteCheck& c) {
      return up.walked && c.complete() && work.view.clock.reached(c.at->latest) && c.at->latest > *up.walked && c.at->latest + std::min<seconds>(p.check_early.span(), gap / 2) >= at;
    });
    if (check != work.site().checks.end()) {
      m.status = StepStatus::done;
      m.actual = check->at->latest;
    } else if (up.walked) {
      set_clock(m, at, work.view.clock);
      m.latest = at + work.view.protocol.check_late.span();
      m.late = !work.view.clock.still(*m.latest);
    } else {
      m.status = StepStatus::expected;
      m.earliest = m.expected = at;
      m.why = Reason{"rest.not-walked", {}};
      if (work.view.clock.reached(at)) m.earliest.reset(), m.status = StepStatus::blocked;
    }
    steps.push_back(std::move(m));
  }
  return steps;
}

}  // namespace

std::vector<Milestone> after_care_steps(const SiteWork& work, const GettingUp& up) {
  auto steps = checks_after_walk(work, up);
  const auto& setting = work.view.protocol.anticoagulant_plan_after;
  Milestone m = milestone(Step::ask_anticoagulant_plan);
  m.basis.push_back({setting.rule.key, setting.rule.source, {}, {"rest.ask-plan", {{"after", setting.span()}}}});
  if (!work.scope) m.after_t0 = setting.whole_minutes();
  if (auto held = work.rest_held()) {
    m.why = std::move(held);
  } else if (!work.site().t0) {
    m.status = StepStatus::expected;
  } else if (up.held) {
    m.why = up.held;
  } else if (const auto at = completed(work.view.facts, nullptr, m.step, up.last_t0)) {
    m.status = StepStatus::done;
    m.actual = at;
  } else {
    set_clock(m, *up.last_t0 + setting.span(), work.view.clock);
  }
  steps.push_back(std::move(m));
  return steps;
}

}  // namespace clinical
