#include "clinical/compute_plan.h"

#include <algorithm>
#include <memory>

#include "clinical/cautions.h"
#include "clinical/clearance.h"
#include "clinical/decision.h"
#include "clinical/getting_up.h"
#include "clinical/in_rest.h"
#include "clinical/missing.h"
#include "clinical/names.h"
#include "clinical/order_clashes.h"
#include "clinical/projection.h"
#include "clinical/site_steps.h"
#include "clinical/stopped.h"

namespace clinical {
namespace {

/// One case on its way to its plan. Its clock learns of every instant at which its plan could change.
struct CaseWork {
  CaseFacts facts;
  std::unique_ptr<Clock> clock;
  std::optional<Evidence> now;   ///< of both, once they stay where they are
  LastActCurve last_curve;
  std::vector<SiteWork> sites;
  std::vector<Alert> patient_alerts;
  bool finished = false;
};

bool with_artery(const SiteFacts& vein, const SiteFacts& other) {
  return other.key != vein.key && other.vessel.usable() && other.vessel.value == Vessel::artery && other.side.usable() && vein.side.usable() &&
         other.side.value == vein.side.value;
}

// In the same groin the artery comes first, and the vein starts its full hold so that both end together.
VeinWaits vein_waits(const CaseWork& work, const SiteWork& site) {
  VeinWaits waits;
  if (!site.view.known_vein() || site.site().out()) return waits;
  for (const auto& other : work.sites) {
    if (!with_artery(site.site(), other.site()) || other.site().t0) continue;
    if (!other.site().out()) waits.for_pull = true;
    else if (!other.hold_start()) waits.for_pull = true;
    else waits.not_before = std::max(waits.not_before.value_or(Instant::min()), *other.hold_start() + other.hold.total - site.hold.total);
  }
  return waits;
}

class Planner {
 public:
  Planner(const Record& record, const Protocol& protocol, Instant now) : protocol_(protocol), now_(now), gathering_(now) {
    for (auto& facts : cases_of(record, protocol, gathering_)) {
      CaseWork work;
      work.clock = std::make_unique<Clock>(now);
      work.facts = std::move(facts);
      cases_.push_back(std::move(work));
    }
  }

  std::vector<CasePlan> plan() {
    for (auto& work : cases_) begin(work);
    const auto before = getting_up(resting());
    for (auto& work : cases_)
      if (!work.finished) std::ranges::move(rest_alerts(*work.now, before.walked, last_out()), std::back_inserter(work.patient_alerts));
    for (auto& work : cases_)
      for (auto& site : work.sites) finish_work(site, work.finished ? std::vector<Instant>{} : clock_times(before));
    up_ = getting_up(resting());
    std::vector<CasePlan> plans;
    for (auto& work : cases_) plans.push_back(plan_of(work));
    share_next_change(plans);
    for (auto& plan : plans)
      if (auto why = why_stopped(plan.patient)) stop(plan, std::move(*why));
    return plans;
  }

 private:
  void begin(CaseWork& work) {
    work.finished = work.facts.case_end && work.clock->reached(*work.facts.case_end);
    if (work.finished) work.clock = std::make_unique<Clock>(*work.facts.case_end);  // it stays as it was at its end
    work.now.emplace(work.facts, protocol_, *work.clock);
    work.sites.reserve(work.facts.sites.size());
    for (const auto& site : work.facts.sites) work.sites.push_back(begin_work(SiteEvidence(*work.now, site)));
    if (!work.finished) work.patient_alerts = clinical::patient_alerts(*work.now, work.last_curve);
  }

  static void add_resting(std::vector<RestingSite>& sites, const CaseWork& work) {
    for (const auto& site : work.sites) sites.push_back({&site, work.facts.index.source.reference});
  }
  std::vector<RestingSite> resting() const {
    std::vector<RestingSite> sites;
    for (const auto& work : cases_)
      if (!work.finished) add_resting(sites, work);
    return sites;
  }
  /// Since when every sheath of the open cases is out; none: one is in, or nobody knows since when it is not.
  std::optional<Instant> last_out() const {
    std::optional<Instant> last;
    for (const auto& one : resting()) {
      const auto out = out_since(one.work->site());
      if (!out) return std::nullopt;
      last = std::max(last, out);
    }
    return last;
  }
  /// The open cases bind the patient together; a finished one keeps what was done in it.
  GettingUp up_in(const CaseWork& work) const {
    if (!work.finished) return up_;
    std::vector<RestingSite> own;
    add_resting(own, work);
    return getting_up(own);
  }

  std::optional<Reason> what_speaks_against(const CaseWork& own) const {
    std::vector<Alert> alerts;
    for (const auto& work : cases_) alerts.insert(alerts.end(), work.patient_alerts.begin(), work.patient_alerts.end());
    return not_ready(resting(), alerts, *own.clock);
  }

  /// Takes the checks out of `site`.
  std::vector<Milestone> steps_of(const CaseWork& work, SiteWork& site, const std::optional<Projection>& projection, const std::optional<Reason>& against) {
    std::vector<Milestone> steps;
    steps.reserve(site.watch.checks.size() + 32);  // more than the course has, and one that asks for what is missing
    const auto take = [&](std::vector<Milestone> more) { std::ranges::move(more, std::back_inserter(steps)); };
    take(removal_steps(site, projection, vein_waits(work, site)));
    take(hold_steps(site));
    take(std::move(site.watch.checks));
    const GettingUp up = up_in(work);
    take(getting_up_steps(site, up, against));
    take(after_care_steps(site, up));
    take(calls(site));
    take(prescriber_calls(work, site));
    sort(steps);
    if (work.facts.provisional) provisional(steps);
    if (work.finished) close(steps);
    else release(steps, *work.clock);
    return steps;
  }

  /// What the patient may not get up under before the prescriber has decided: a call each, for the site that rests.
  static std::vector<Milestone> prescriber_calls(const CaseWork& work, const SiteWork& site) {
    std::vector<Milestone> steps;
    int ordinal = kFirstRestCall;
    if (work.finished || work.facts.provisional || !site.site().t0) return steps;
    for (const auto& alert : work.patient_alerts)
      if (auto why = asks_prescriber(alert)) {
        Milestone m = milestone(Step::call_clinician, std::move(why));
        m.ordinal = ordinal++;
        set_clock(m, alert.since, *work.clock);
        steps.push_back(std::move(m));
      }
    return steps;
  }

  // By their places: a milestone is large to move about.
  static void sort(std::vector<Milestone>& steps) {
    std::vector<Milestone*> order;
    order.reserve(steps.size());
    for (auto& m : steps) order.push_back(&m);
    std::ranges::stable_sort(order, {}, [](const Milestone* m) { return m->step; });
    std::vector<Milestone> sorted;
    sorted.reserve(steps.size() + 1);
    for (auto* m : order) sorted.push_back(std::move(*m));
    steps = std::move(sorted);
  }

  // Of a provisional case only the checks keep their times.
  static void provisional(std::vector<Milestone>& steps) {
    for (auto& m : steps) {
      if (m.step == Step::check_site || m.status == StepStatus::done || m.status == StepStatus::cancelled) continue;
      m.status = StepStatus::blocked;
      m.earliest.reset();
      m.expected.reset();
      if (!m.why) m.why = Reason{"withheld.provisional", {}};
    }
  }
  static void close(std::vector<Milestone>& steps) {
    for (auto& m : steps) {
      const bool out = m.step == Step::remove_sheath && m.status == StepStatus::cancelled;  // at a time that nobody recorded
      if (m.status == StepStatus::done || out) continue;
      m.status = StepStatus::cancelled;
      m.late = false;
      m.earliest.reset();
      m.expected.reset();
      m.why = Reason{"case.finished", {}};
    }
  }
  void release(std::vector<Milestone>& steps, const Clock& clock) const {
    bool confirmed = true;
    for (auto& m : steps) {
      if (m.step == Step::confirm_readiness) confirmed = m.status == StepStatus::done;
      const bool open = m.status == StepStatus::due || m.status == StepStatus::expected;
      m.released = open && m.earliest && clock.reached(*m.earliest - protocol_.release_window.span());
      if (m.step == Step::confirm_readiness && m.status != StepStatus::due) m.released = false;
      if (m.step == Step::remove_sheath && (!confirmed || m.status != StepStatus::due)) m.released = false;
    }
  }

  static CaseState state_of(const CaseWork& work, const SiteWork& site) {
    const auto& facts = site.site();
    if (facts.t0) return CaseState::resting;
    if (facts.out()) return CaseState::compressing;
    const auto& end = work.facts.index.end;
    const bool ended = !end || work.clock->reached(end->earliest);
    return facts.sheath_known_in || work.facts.provisional || ended ? CaseState::sheath_in : CaseState::waiting;
  }
  CaseState state_of(const CaseWork& work) const {
    if (work.finished) return CaseState::finished;
    CaseState least = CaseState::resting;
    for (const auto& site : work.sites) least = std::min(least, state_of(work, site));
    return least == CaseState::resting && up_.walked ? CaseState::walking : least;
  }

  /// Takes the gates out of `site`.
  SitePlan site_plan(const CaseWork& work, SiteWork& site, std::vector<Milestone> steps, const std::optional<Projection>& projection) const {
    const auto& facts = site.site();
    SitePlan plan;
    plan.key = facts.key;
    if (facts.side.usable()) plan.side = facts.side.value;
    if (facts.vessel.usable()) plan.vessel = facts.vessel.value;
    if (facts.french.usable()) plan.french = facts.french.value;
    const bool pressed_otherwise = facts.device_failed || (!facts.holds.empty() && facts.holds.back().method != Closure::unknown);
    plan.direction = facts.direction;
    if (facts.closure.usable() || pressed_otherwise) plan.closure = site.view.method();
    plan.sheath_out = facts.sheath_out;
    plan.compression_started = site.hold_start();
    plan.t0 = facts.t0;
    plan.haemostases = static_cast<int>(facts.t0_history.size());
    plan.rebleeds = facts.rebleeds;
    plan.high_watch = site.high_watch;
    plan.watched_for = site.watched_for;
    plan.baseline_pulses = facts.baseline_pulses;
    for (const auto& event : facts.events)
      if (event.kind == AccessEventKind::compression_started || event.kind == AccessEventKind::pressure_changed || event.kind == AccessEventKind::compression_ended)
        plan.compression_log.push_back(event);
    const auto look = std::find_if(facts.checks.rbegin(), facts.checks.rend(), [](const SiteCheck& c) { return c.of_a_groin(); });
    if (look != facts.checks.rend()) plan.last_check = *look;
    if (!facts.out() && !work.finished) plan.gates = std::move(site.view.gates);
    plan.milestones = std::move(steps);
    if (!facts.out() && !work.finished) plan.projection = projection;
    return plan;
  }

  CasePlan plan_of(CaseWork& work) {
    const auto& facts = work.facts;
    const auto& clock = *work.clock;
    CasePlan plan;
    describe(plan, facts);
    plan.state = state_of(work);
    const bool sheath_in = std::ranges::any_of(work.sites, [](const SiteWork& s) { return !s.site().out(); });
    const auto projection = sheath_in && !work.finished ? project_act(*work.now, work.last_curve) : std::nullopt;
    const auto against = work.finished ? std::nullopt : what_speaks_against(work);
    std::vector<std::vector<Milestone>> steps;
    for (auto& site : work.sites) steps.push_back(steps_of(work, site, projection, against));
    if (!work.finished) plan.missing = missing_of(work.sites, steps, up_);
    plan.conflicts = facts.conflicts;
    for (const auto& site : work.sites)
      if (site.rest.differs && !work.finished && !site.scope) plan.conflicts.push_back(*site.rest.differs);
    if (!work.finished && !steps.empty() && !(plan.missing.empty() && plan.conflicts.empty())) steps.front().insert(steps.front().begin(), ask_for_missing(facts, clock));
    for (std::size_t i = 0; i < work.sites.size(); ++i) plan.sites.push_back(site_plan(work, work.sites[i], std::move(steps[i]), projection));
    plan.agents = agents_at(*work.now);
    plan.clearance = clearance_of(*work.now, true).clearance;
    add_alerts(plan, work);
    if (!work.finished) hold_for_emergency(plan, facts, clock);
    if (!work.finished) plan.cautions = cautions_of(facts, protocol_, clock);
    if (!work.finished) add_drugs_in_rest(plan, *work.now);
    if (!work.finished) add_early_rows(plan, work);
    if (!work.finished) plan.order_clashes = order_clashes(plan, facts, clock);
    show(plan, facts, work.now->index());
    set_up_at(plan, work);
    if (!work.finished) set_validity(plan, clock);
    return plan;
  }

  // What is withheld has no row to speak of.
  static void add_early_rows(CasePlan& plan, const CaseWork& work) {
    for (const auto& site : work.sites)
      if (!site.scope) plan.cautions.insert(plan.cautions.end(), site.rest.early.begin(), site.rest.early.end());
  }

  static void add_drugs_in_rest(CasePlan& plan, const Evidence& now) {
    for (const auto& given : given_in_rest(now))
      if (!given.began_before) plan.cautions.push_back({"caution.drug-in-rest", {{"what", given.what}, {"at", when(*given.dose->start)}}});
  }

  static void describe(CasePlan& plan, const CaseFacts& facts) {
    plan.procedure = facts.index.source;
    if (!facts.index.identifiers.empty()) plan.procedure_identifier = facts.index.identifiers.front().system + "|" + facts.index.identifiers.front().value;
    plan.title = facts.index.title;
    plan.encounter = facts.encounter ? facts.encounter->source.reference : facts.index.encounter;
    plan.place = facts.encounter && !facts.encounter->place.empty() ? facts.encounter->place : facts.index.place;
    plan.operator_name = facts.index.operator_name;
    plan.patient = facts.patient;
    if (facts.start_exact) plan.started = facts.start;
    plan.provisional = facts.provisional;
  }

  Milestone ask_for_missing(const CaseFacts& facts, const Clock& clock) const {
    Milestone m = milestone(Step::provide_missing, Reason{"missing.ask", {}});
    set_clock(m, facts.start, clock);
    m.released = m.status == StepStatus::due;
    return m;
  }

  void add_alerts(CasePlan& plan, const CaseWork& work) const {
    for (const auto& site : work.sites) plan.alerts.insert(plan.alerts.end(), site.alerts.begin(), site.alerts.end());
    plan.alerts.insert(plan.alerts.end(), work.patient_alerts.begin(), work.patient_alerts.end());
    std::ranges::stable_sort(plan.alerts, [](const Alert& a, const Alert& b) {
      return a.level != b.level ? a.level > b.level : std::tie(a.trigger, a.site) < std::tie(b.trigger, b.site);
    });
    for (auto& alert : plan.alerts) alert.raised_again = raised_again(alert.since, protocol_, *work.clock);
  }

  // What is called about and has no gate that a clinician could answer: blood lost, a foot or a groin that is not well.
  static bool bleeds_or_lacks_blood(const Alert& alert) {
    constexpr std::string_view kinds[] = {"systolic-low", "mass-or-bruit", "pain", "oxygen-saturation", "skin-under-device", "limb-weakness"};
    return alert.level == AlertLevel::urgent && std::ranges::find(kinds, alert.trigger) != std::end(kinds);
  }

  // A clinician decided on the pull since then: valid as long as a decision on a gate.
  bool decided_on_pull(const CaseFacts& facts, Instant since, const Clock& clock) const {
    return std::ranges::any_of(facts.decisions, [&](const Decision& d) {
      const bool named = d.subject == name_of(Step::remove_sheath) && !d.performer.empty() && d.at && d.at->exact() && d.at->latest >= since;
      return named && !withdrawn(d, facts.decisions) && clock.reached(d.at->latest) && clock.still(d.at->latest + protocol_.decision_validity.span());
    });
  }

  // The sheath is the way back in, and what is wrong comes first: nobody is told to take it out beside an open emergency. Common practice, no source.
  void hold_for_emergency(CasePlan& plan, const CaseFacts& facts, const Clock& clock) const {
    auto alert = std::ranges::find(plan.alerts, AlertLevel::emergency, &Alert::level);
    const bool emergency = alert != plan.alerts.end();
    if (!emergency) alert = std::ranges::find_if(plan.alerts, [&](const Alert& a) { return bleeds_or_lacks_blood(a) && !decided_on_pull(facts, a.since, clock); });
    if (alert == plan.alerts.end()) return;
    for (auto& site : plan.sites)
      for (auto& m : site.milestones) {
        const bool open = m.status == StepStatus::due || m.status == StepStatus::expected;
        if (!open || (m.step != Step::remove_sheath && m.step != Step::confirm_readiness)) continue;
        m.status = StepStatus::blocked;
        m.released = m.late = false;
        m.earliest.reset();
        m.why = Reason{emergency ? "removal.emergency" : "removal.urgent", {{"alert", term("alert", alert->trigger)}}};
      }
  }

  static void show(CasePlan& plan, const CaseFacts& facts, const MeasurementIndex& index) {
    for (int i = 0; i <= static_cast<int>(Analyte::temperature); ++i) {
      const Measurement* newest = nullptr;
      for (const auto* m : index.of(static_cast<Analyte>(i)))
        if (m->value && m->at && (!newest || m->at->latest >= newest->at->latest)) newest = m;
      if (newest) plan.shown_values.push_back(*newest);
    }
    for (const auto& a : facts.administrations)
      if (a.agent != Agent::other) plan.shown_doses.push_back(a);
  }

  void set_up_at(CasePlan& plan, const CaseWork& work) const {
    if (work.finished) return;
    for (const auto& site : plan.sites)
      if (const auto m = std::ranges::find(site.milestones, Step::stand_and_walk, &Milestone::step); m != site.milestones.end())  // GCOV_EXCL_BR_LINE every site has this step
        plan.up_at = m->actual ? m->actual : m->earliest;
    if (plan.up_at) plan.up_site = up_.up_site;
  }

  void set_validity(CasePlan& plan, const Clock& clock) const {
    const auto until = std::chrono::floor<hours>(now_ + protocol_.release_window.span());
    plan.valid_until = until;
    clock.note(until + hours{1} - protocol_.release_window.span());
  }

  // The patient's steps bind the open cases together, and so does what was noted while gathering. A finished case waits for recorded facts alone.
  void share_next_change(std::vector<CasePlan>& plans) const {
    std::optional<Instant> next = gathering_.next();
    for (const auto& work : cases_)
      if (!work.finished && work.clock->next() && (!next || *work.clock->next() < *next)) next = work.clock->next();
    for (std::size_t i = 0; i < plans.size(); ++i) plans[i].next_change = cases_[i].finished ? gathering_.next() : next;
  }

  const Protocol& protocol_;
  Instant now_;
  Clock gathering_;
  std::vector<CaseWork> cases_;
  GettingUp up_;
};

// Where the stay that the Procedure names has ended and another goes on, the patient is there now. One that is not held is taken as it is named.
void follow_stay(CasePlan& plan, const Record& record) {
  if (plan.state == CaseState::finished) return;
  const auto named = std::ranges::find(record.encounters, plan.encounter, [](const Encounter& e) { return e.source.reference; });
  if (named == record.encounters.end() ? !plan.encounter.empty() : named->in_progress) return;
  const Encounter* latest = nullptr;
  for (const auto& e : record.encounters)
    if (e.in_progress && (!latest || (e.start && (!latest->start || latest->start->latest < e.start->latest)))) latest = &e;
  if (!latest) return;
  plan.encounter = latest->source.reference;
  if (!latest->place.empty()) plan.place = latest->place;
}

}  // namespace

std::vector<CasePlan> compute_plans(const Record& record, const Protocol& protocol, Instant now) {
  auto plans = Planner(record, protocol, now).plan();
  for (auto& plan : plans) follow_stay(plan, record);
  return plans;
}

}  // namespace clinical
