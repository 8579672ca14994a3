#include "clinical/site_work.h"

#include <algorithm>

#include "clinical/decision.h"
#include "clinical/early_steps.h"
#include "clinical/names.h"
#include "clinical/site_steps.h"

namespace clinical {
namespace {

// Any phase that is ordered on its own must be ordered for each of them; end-compression stands for all.
bool ordered(const CaseFacts& facts, const HoldPlan& hold) {
  return decision_on(facts, Step::end_compression, hold.total) ||
         std::ranges::all_of(hold.phases, [&](const Phase& phase) { return decision_on(facts, phase.step, phase.length); });
}

bool haemostasis_came_early(const SiteFacts& site, const HoldPlan& hold) {
  return site.t0 && !site.holds.empty() && *site.t0 < site.holds.back().start + hold.total;
}

// Up before it was time bends the groin under a fresh clot: sitting or walking, not a check or the head of the bed.
bool up_early(const SiteWork& work) {
  return std::ranges::any_of(early_steps(work), [](const EarlyStep& e) { return e.step == Step::sit_up || e.step == Step::stand_and_walk; });
}

// A pressure of 160 or more on bed rest, or any modifier, a late trouble or a withheld plan: the closer watch.
std::vector<Reason> closer_watch(const SiteWork& work) {
  const auto& site = work.site();
  const bool swollen = std::ranges::any_of(site.checks, [](const SiteCheck& c) { return c.swelling && c.swelling->micro > 0; });
  const bool pressure = std::ranges::any_of(work.rest.basis, [&](const Basis& b) { return b.rule == work.view.protocol.add_systolic_rest.rule.key; });
  std::vector<Reason> why;
  const auto add = [&](bool applies, const char* code) {
    if (applies) why.push_back({code, {}});
  };
  add(work.scope.has_value(), "watch.closer.withheld");
  add(!site.rebleeds.empty(), "watch.closer.rebleed");
  add(site.device_failed, "watch.closer.closure-failed");
  add(swollen, "watch.closer.swelling");
  add(work.early, "watch.closer.early");
  add(up_early(work), "watch.closer.up-early");
  add(pressure, "watch.closer.pressure");
  const auto still_to_come = [&](const Modifier& m) { return m.unknown && m.name == "pressure-at-pull" && !site.out(); };
  for (const auto& m : work.modifiers)
    if (m.high_watch && !still_to_come(m)) why.push_back({m.unknown ? "watch.closer.not-recorded" : "watch.closer.recorded", {{"what", std::string("@add.") + std::string(m.name)}}});
  return why;
}

}  // namespace

const Decision* decision_on(const CaseFacts& facts, Step step, minutes planned) {
  const std::string seen = std::to_string(planned.count()) + " min";
  // Whoever decided before an order on bed rest was written did not know it.
  const auto knew = [&](const Decision& d) {
    return step != Step::stand_and_walk || std::ranges::none_of(facts.orders, [&](const Order& o) { return o.kind == OrderKind::bed_rest && (!o.written || o.written->latest > d.at->earliest); });
  };
  const Decision* found = nullptr;
  for (const auto& d : facts.decisions)
    if (d.subject == name_of(step) && !withdrawn(d, facts.decisions) && !d.performer.empty() && d.at && d.at->exact() && quotes(d.value_seen, seen) && knew(d)) found = &d;
  return found;
}

std::optional<Instant> SiteWork::hold_start() const {
  const auto& holds = site().holds;
  return holds.empty() || holds.back().asked ? std::nullopt : std::optional(holds.back().start);
}

std::optional<Reason> SiteWork::removal_held() const {
  if (scope) return scope;
  if (limb) return limb;
  return held_by_conflict(view, Stage::removal);
}

std::optional<Reason> SiteWork::hold_held() const {
  if (scope) return scope;
  if (limb) return limb;
  if (auto conflict = held_by_conflict(view, Stage::compression)) return conflict;
  return hold_ordered ? std::nullopt : hold.ask;
}

std::optional<Reason> SiteWork::rest_held() const {
  if (scope) return scope;
  if (limb) return limb;
  if (auto conflict = held_by_conflict(view, Stage::rest)) return conflict;
  return rest_ordered ? std::nullopt : rest.ask;
}

SiteWork begin_work(const SiteEvidence& now) {
  SiteWork work{view_of(now), {}, {}, {}, {}, false, false, false, false, {}, {}, {}, {}};
  work.modifiers = modifiers_of(work.view);
  work.hold = hold_plan(work.view, work.modifiers);
  work.rest = rest_plan(work.view, work.modifiers, work.hold);
  work.scope = out_of_scope(work.view);
  work.hold_ordered = work.hold.ask && ordered(now.facts, work.hold);
  work.rest_ordered = work.rest.ask && decision_on(now.facts, Step::stand_and_walk, work.rest.walk);
  work.early = haemostasis_came_early(now.site, work.hold);
  work.watched_for = closer_watch(work);
  work.high_watch = !work.watched_for.empty();
  return work;
}

void finish_work(SiteWork& work, const std::vector<Instant>& getting_up) {
  const bool ended = work.view.facts.case_end && work.view.clock.reached(*work.view.facts.case_end);
  work.watch = watch_of({work.view, work.hold, work.high_watch, getting_up});
  work.high_watch |= work.watch.restarted;
  if (work.watch.restarted) work.watched_for.push_back({"watch.closer.heparin-again", {}});
  if (ended) {
    if (!work.scope && work.site().t0)
      if (auto left = left_in_rest(work.view, *work.site().t0 + work.rest.walk)) work.alerts.push_back(std::move(*left));
    return;
  }
  std::optional<Reason> withheld;
  if (!work.view.facts.provisional) {
    withheld = work.scope;
    if (!withheld) withheld = held_by_conflict(work.view, Stage::rest);
  }
  work.alerts = site_alerts({work.view, work.hold, work.watch, work.early, work.hold_ordered, withheld, early_steps(work)});
  for (const auto& alert : work.alerts)
    if (alert.trigger == "limb-ischaemia") work.limb = Reason{"withheld.limb", {}};
}

}  // namespace clinical
