#include "sheet/acts.h"

#include <algorithm>
#include <tuple>

#include "clinical/change.h"
#include "clinical/phrases.h"

namespace sheet {
namespace {

using clinical::Milestone;
using clinical::Step;
using clinical::StepStatus;

bool in_course(Step step) {
  switch (step) {
    case Step::confirm_readiness: case Step::remove_sheath: case Step::firm_compression: case Step::partial_compression: case Step::light_compression:
    case Step::reduce_pressure: case Step::low_pressure_hold: case Step::end_compression: case Step::raise_head: case Step::sit_up:
    case Step::stand_and_walk: case Step::discharge_check: return true;
    default: return false;
  }
}

bool is_check(Step step) { return step == Step::check_site || step == Step::check_after_walk; }
bool is_waiting(const Milestone& m) { return m.status == StepStatus::due || (m.status == StepStatus::expected && m.earliest); }

/// What follows the first walk is no next act while the walk itself is held back.
bool hangs_on_a_held_walk(const clinical::SitePlan& site, const Milestone& m) {
  if (m.step != Step::discharge_check && m.step != Step::check_after_walk) return false;
  return std::ranges::any_of(site.milestones, [](const Milestone& other) { return other.step == Step::stand_and_walk && other.status == StepStatus::blocked; });
}

/// Every open step at the bed once: what is one act for all sites stands in the first of them.
std::vector<Act> open_acts(const clinical::CasePlan& plan) {
  std::vector<Act> acts;
  for (const auto& site : plan.sites)
    for (const auto& m : site.milestones) {
      const bool paper = m.step == Step::provide_missing || m.step == Step::print_sheet || m.step == Step::check_sheet;
      if (paper || (!is_waiting(m) && m.status != StepStatus::blocked) || hangs_on_a_held_walk(site, m) || clinical::waits_for_emergency(plan, m)) continue;
      const bool again = clinical::is_shared_step(m.step) && std::ranges::any_of(acts, [&](const Act& a) { return a.step->step == m.step; });
      if (!again) acts.push_back({&site, &m});
    }
  return acts;
}

std::optional<Act> leading(const std::vector<Act>& acts) {
  const Act* due = nullptr;
  const Act* call = nullptr;
  const Act* draw = nullptr;
  const Act* check = nullptr;
  const Act* earliest = nullptr;
  for (const Act& a : acts) {
    const Step step = a.step->step;
    if (!is_waiting(*a.step)) continue;
    if (a.now() && in_course(step)) {
      const bool confirm_first = due && due->step->step == Step::confirm_readiness && step == Step::remove_sheath && due->site == a.site;
      if (!confirm_first && (!due || step >= due->step->step)) due = &a;
    } else if (a.now() && step == Step::call_clinician) {
      call = &a;
    } else if (a.now() && step == Step::draw_coagulation) {
      draw = &a;
    } else if (a.now() && is_check(step)) {
      check = check ? check : &a;
    } else if (!a.now() && (in_course(step) || is_check(step) || step == Step::draw_coagulation) && (!earliest || a.step->earliest < earliest->step->earliest)) {
      earliest = &a;
    }
  }
  for (const Act* a : {due, call, draw, check, earliest})
    if (a) return *a;
  return std::nullopt;
}

bool same(const Act& a, const std::optional<Act>& b) { return b && a.step == b->step; }

}  // namespace

Acts acts_of(const clinical::CasePlan& plan) {
  const auto open = open_acts(plan);
  Acts acts;
  acts.next = leading(open);
  std::vector<Act> waiting;
  std::ranges::copy_if(open, std::back_inserter(waiting), [](const Act& a) { return is_waiting(*a.step) && a.step->earliest; });
  std::ranges::stable_sort(waiting, {}, [](const Act& a) { return std::tuple(*a.step->earliest, a.step->step); });
  const auto check = std::ranges::find_if(waiting, [&](const Act& a) { return is_check(a.step->step) && !same(a, acts.next); });
  for (const Act& a : waiting) {
    const bool later_check = is_check(a.step->step) && (acts.next && is_check(acts.next->step->step) ? true : check == waiting.end() || !same(a, *check));
    const bool passed = acts.next && a.step->step < acts.next->step->step && in_course(a.step->step) && a.site == acts.next->site;
    if (acts.then.size() < 4 && !later_check && !same(a, acts.next) && !passed) acts.then.push_back(a);
  }
  const auto held = std::ranges::find_if(open, [](const Act& a) { return a.step->status == StepStatus::blocked && in_course(a.step->step); });
  if (!acts.next && held != open.end()) acts.held = *held;
  return acts;
}

}  // namespace sheet
