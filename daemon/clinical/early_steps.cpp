#include "clinical/early_steps.h"

#include <algorithm>

#include "clinical/names.h"
#include "clinical/site_steps.h"

namespace clinical {
namespace {

using When = EarlyStep::When;

// A T0 no longer stands after a rebleed, a growing swelling, a closure that failed or another sheath.
bool voided_between(const SiteFacts& site, Instant t0, Instant at) {
  const auto within = [&](Instant i) { return i > t0 && i <= at; };
  const auto voids = [&](const AccessEvent& e) {
    return (e.kind == AccessEventKind::closure_failed || e.kind == AccessEventKind::sheath_inserted) && e.at && e.at->exact() && within(e.at->latest);
  };
  return std::ranges::any_of(site.rebleeds, within) || std::ranges::any_of(site.growths, [&](const Growth& g) { return g.voided && within(g.at); }) ||
         std::ranges::any_of(site.events, voids);
}

bool sheath_was_in(const SiteFacts& site, Instant at) {
  if (!site.out()) return true;
  return site.sheath_out && at < *site.sheath_out;
}

class Judge {
 public:
  explicit Judge(const SiteWork& work) : work_(work), site_(work.site()), facts_(work.view.facts), p_(work.view.protocol) {}

  std::vector<EarlyStep> judge() {
    for (const auto& task : facts_.tasks) {
      if (task.state != TaskState::completed || !task.changed || task.changed->latest < facts_.start) continue;
      for (const Step step : {Step::raise_head, Step::sit_up, Step::stand_and_walk, Step::discharge_check})
        if (task.step == name_of(step)) add(step, task.changed->latest);
    }
    std::ranges::stable_sort(found_, {}, &EarlyStep::at);
    return std::move(found_);
  }

 private:
  void add(Step step, Instant at) {
    if (before_haemostasis(site_, at)) {
      if (step != Step::discharge_check) found_.push_back({step, at, sheath_was_in(site_, at) ? When::sheath_in : When::being_pressed, {}});
      return;
    }
    const bool up = step == Step::sit_up || step == Step::stand_and_walk;
    if (up && site_.disputed) found_.push_back({step, at, When::before_clock, {}});
    if (!site_.t0 || at < *site_.t0) return;
    const bool held = work_.rest_held().has_value();
    if (held && !up) return;
    if (no_time_permits(work_)) {
      found_.push_back({step, at, When::before_clock, {}});
      return;
    }
    const Instant from = clock_of(step);
    const Instant counts = step == Step::discharge_check ? from - p_.check_early.span() : from;
    const bool early = step == Step::stand_and_walk ? at < walk_allowed(at) : at < counts;
    if (early) found_.push_back({step, at, When::before_clock, held ? std::nullopt : std::optional(step == Step::stand_and_walk ? walk_allowed(at) : from)});
  }
  Instant walk_allowed(Instant at) const { return *site_.t0 + length_for(work_.rest, at); }
  std::optional<Instant> first_walk() const {
    for (auto at = completed(facts_, nullptr, Step::stand_and_walk, *site_.t0); at; at = completed(facts_, nullptr, Step::stand_and_walk, *at + seconds{1}))
      if (*at >= walk_allowed(*at)) return at;
    return std::nullopt;
  }
  Instant clock_of(Step step) const {
    if (step == Step::raise_head) return *site_.t0 + work_.rest.head;
    if (step == Step::sit_up) return *site_.t0 + work_.rest.sit;
    if (step == Step::stand_and_walk) return *site_.t0 + work_.rest.walk;
    const auto walked = first_walk();
    return walked ? std::max(*walked + p_.discharge_after_walk.span(), *site_.t0 + discharge_floor(work_.view)) : *site_.t0 + work_.rest.discharge;
  }

  const SiteWork& work_;
  const SiteFacts& site_;
  const CaseFacts& facts_;
  const Protocol& p_;
  std::vector<EarlyStep> found_;
};

}  // namespace

bool before_haemostasis(const SiteFacts& site, Instant at) {
  const Instant* last = nullptr;
  for (const auto& t0 : site.t0_history)
    if (t0 <= at) last = &t0;
  return !last || voided_between(site, *last, at);
}

bool no_time_permits(const SiteWork& work) {
  return work.scope || work.site().disputed || (work.rest.ask && !work.rest_ordered);
}

std::vector<EarlyStep> early_steps(const SiteWork& work) { return Judge(work).judge(); }

}  // namespace clinical
