// What must hold within one plan, whatever the case.
#include <fmt/format.h>

#include <algorithm>

#include "clinical/names.h"
#include "laws.h"
#include "view.h"

namespace campaign {

using namespace clinical;

namespace {

bool of_patient(Step s) { return s == Step::raise_head || s == Step::sit_up || s == Step::stand_and_walk || s == Step::discharge_check; }
bool of_rest(Step s) { return of_patient(s) || s == Step::check_after_walk || s == Step::ask_anticoagulant_plan; }
bool of_pull(Step s) { return s == Step::remove_sheath || s == Step::confirm_readiness; }

class Shape {
 public:
  explicit Shape(const Question& q) : q_(q) {}

  std::string look() {
    for (const auto& plan : q_.plans) {
      patient(plan);
      for (const auto& site : plan.sites) this->site(plan, site);
      missing(plan);
    }
    return std::move(found_);
  }

 private:
  template <class... T>
  void fail(fmt::format_string<T...> format, T&&... values) {
    if (found_.empty()) found_ = fmt::format(format, std::forward<T>(values)...);
  }

  static bool finished(const CasePlan& plan) { return plan.state == CaseState::finished || plan.state == CaseState::withdrawn; }
  static bool sheath_in(const SitePlan& s) { return !s.sheath_out && !s.compression_started && s.haemostases == 0 && !out_untimed(s); }
  static bool out_untimed(const SitePlan& s) {
    return std::ranges::any_of(s.milestones, [](const Milestone& m) { return m.step == Step::remove_sheath && (m.status == StepStatus::done || m.status == StepStatus::cancelled); });
  }

  void patient(const CasePlan& plan) {
    const Instant until = std::chrono::floor<hours>(q_.told.now + q_.protocol.release_window.span());
    if (finished(plan)) {
      if (plan.valid_until || plan.up_at) fail("a finished case has a validity or a time to get up");
      return;
    }
    if (plan.valid_until != until) fail("validUntil is {} and not {}", written(plan.valid_until), written(until));
    for (const auto& other : q_.plans) {
      if (finished(other)) continue;
      for (const auto& s : other.sites)
        if (!s.t0)
          for (const auto& own : plan.sites)
            for (const auto& m : own.milestones)
              if (of_patient(m.step) && (m.earliest || (m.expected && sheath_in(s)) || (plan.up_at && !m.actual && m.step == Step::stand_and_walk)))
                fail("{} has a time ({}, {}) while {} has no T0 (sheath {})", name_of(m.step), written(m.earliest), written(m.expected), s.key, sheath_in(s) ? "in" : "out");
    }
  }

  void site(const CasePlan& plan, const SitePlan& s) {
    for (const auto& m : s.milestones) {
      milestone(plan, s, m);
      if (of_rest(m.step)) rest(s, m);
      if (of_pull(m.step)) pull(s, m);
    }
    lengths(plan, s);
    for (const auto& g : s.gates) gate(g);
  }

  void milestone(const CasePlan& plan, const SitePlan& s, const Milestone& m) {
    const Instant now = q_.told.now;
    const auto name = fmt::format("{}#{} of {}", name_of(m.step), m.ordinal, s.key);
    if (m.basis.empty() && m.status != StepStatus::cancelled && (m.earliest || m.planned || m.after_t0) && m.step != Step::confirm_readiness && m.step != Step::call_clinician &&
        m.step != Step::dress_site && m.step != Step::provide_missing && !hold_phase(m.step))
      fail("{} has a time and no basis", name);
    if (m.status == StepStatus::blocked && !m.why) fail("{} is blocked and does not say why", name);
    if (m.status == StepStatus::due && (!m.earliest || *m.earliest > now)) fail("{} is due and its earliest is {}", name, written(m.earliest));
    if (m.status == StepStatus::expected && m.earliest && *m.earliest <= now) fail("{} is expected at {}, which has passed", name, written(m.earliest));
    if (m.status == StepStatus::blocked && m.earliest) fail("{} is blocked and has an earliest", name);
    if (m.status == StepStatus::done && m.actual && *m.actual > now) fail("{} was done in the future", name);
    if (m.released && m.status != StepStatus::due && m.status != StepStatus::expected) fail("{} is released and {}", name, name_of(m.status));
    if (m.planned && m.planned->count() < 0) fail("{} lasts {} min", name, m.planned->count());
    if (finished(plan) && plan.state == CaseState::finished && m.status != StepStatus::done && m.status != StepStatus::cancelled) fail("{} stands in a finished case", name);
  }
  static bool hold_phase(Step s) {
    return s == Step::firm_compression || s == Step::partial_compression || s == Step::light_compression || s == Step::reduce_pressure || s == Step::low_pressure_hold;
  }

  void rest(const SitePlan& s, const Milestone& m) {
    for (const auto& at : {m.earliest, m.expected, m.actual}) {
      if (!at) continue;
      if (!s.t0 && at != m.actual) fail("{} of {} is timed {} before there is a T0", name_of(m.step), s.key, written(at));
      if (s.t0 && *at < *s.t0) fail("{} of {} is timed {}, T0 is {}", name_of(m.step), s.key, written(at), written(s.t0));
    }
  }

  void pull(const SitePlan& s, const Milestone& m) {
    if (m.status == StepStatus::done || m.status == StepStatus::cancelled) return;
    for (const auto& g : s.gates) {
      const bool opens = g.state == GateState::closed && g.opens_at && m.earliest && *g.opens_at <= *m.earliest;
      if (m.earliest && g.state != GateState::open && !opens) fail("{} has earliest {} and gate {} is {}", name_of(m.step), written(m.earliest), name_of(g.name), name_of(g.state));
      if (m.status == StepStatus::due && g.state != GateState::open) fail("{} is due and gate {} is {}", name_of(m.step), name_of(g.name), name_of(g.state));
    }
    if (m.earliest && s.gates.empty()) fail("{} has a time and no gate", name_of(m.step));
  }

  void gate(const Gate& g) {
    if (g.opens_at && (g.state != GateState::closed || *g.opens_at <= q_.told.now)) fail("gate {} opens at {} and is {}", name_of(g.name), written(g.opens_at), name_of(g.state));
    if (g.state == GateState::open && g.since && *g.since > q_.told.now) fail("gate {} is open since {}", name_of(g.name), written(g.since));
    if (g.state == GateState::needs && g.needs.empty()) fail("gate {} needs nothing it names", name_of(g.name));
    if (g.state == GateState::open && g.expires_at && *g.expires_at < q_.told.now) fail("gate {} is open on a value that expired {}", name_of(g.name), written(g.expires_at));
    if (g.rule.empty() || g.source.empty() || g.why.code.empty()) fail("gate {} has no rule, source or reason", name_of(g.name));
  }

  // Whatever a gate needs is asked of somebody.
  void missing(const CasePlan& plan) {
    if (finished(plan)) return;
    for (const auto& s : plan.sites)
      for (const auto& g : s.gates)
        for (const Fact fact : g.needs)
          if (std::ranges::none_of(plan.missing, [&](const Missing& m) { return m.fact == fact; })) fail("gate {} needs {} and nobody is asked", name_of(g.name), name_of(fact));
  }

  /// The published rows as a floor of their own, worked out here again: one hour of rest and three minutes of hold per French (institutional rules,
  /// 15 min from J Interv Cardiol 2001;14:7), 2/4/6 h after a closure device, 4 h after a vein; and what a rebleed adds.
  void lengths(const CasePlan&, const SitePlan& s) {
    const auto* walk = named(s, Step::stand_and_walk);
    const auto* end = named(s, Step::end_compression);
    const auto* head = named(s, Step::raise_head);
    if (!walk || !end || !walk->after_t0 || !s.french || s.vessel == Vessel::unknown) return;
    const int f = *s.french;
    const bool device = s.closure == Closure::device || s.closure == Closure::suture;
    const bool artery = s.vessel == Vessel::artery;
    const bool early = std::ranges::any_of(walk->basis, [](const Basis& b) { return b.arithmetic.code == "rest.early"; });
    const minutes rest = early ? early_row(s) : hours{!artery ? 4 : device ? (f <= 6 ? 2 : f <= 8 ? 4 : 6) : std::clamp(f, 4, 8)};
    const int again = std::max(0, s.haemostases - 1);
    if (*walk->after_t0 < rest) fail("{}: walking after {} min, the row says {} min", s.key, walk->after_t0->count(), rest.count());
    if (!device && end->planned && again == 0 && s.closure == Closure::manual) {
      const int hold = !artery ? 10 : std::clamp((3 * f + 4) / 5 * 5, 15, 30);
      if (*end->planned < minutes{hold}) fail("{}: a hold of {} min, the row says {}", s.key, end->planned->count(), hold);
    }
    if (head && head->after_t0 && *head->after_t0 > *walk->after_t0) fail("{}: walking before the head is raised", s.key);
    if (end->planned && s.closure == Closure::mechanical && artery && *end->planned < minutes{60}) fail("{}: {} min by device", s.key, end->planned->count());
  }
  /// The short arms: 4 F J Interv Cardiol 2001;14:7, 5 and 7 F Cathet Cardiovasc Diagn 1996;39:230, 6 F 1997;42:8. And what must not be there, asked of
  /// the record itself.
  minutes early_row(const SitePlan& s) {
    static constexpr int kArms[] = {120, 120, 150, 240};
    const int f = *s.french;
    if (f < 4 || f > 7 || s.vessel != Vessel::artery || s.closure != Closure::manual || s.haemostases != 1 || !s.t0) {
      fail("{}: an early row for {} F, closed by {}, {} haemostases", s.key, f, name_of(s.closure), s.haemostases);
      return hours{8};
    }
    const auto& r = q_.told.record;
    for (const auto& a : r.administrations)
      if (!a.flush && a.start && a.start->latest <= q_.told.now && a.start->earliest > q_.told.now - hours{72} && (a.agent == Agent::heparin || a.agent == Agent::abciximab || a.agent == Agent::alteplase || a.agent == Agent::unidentified))
        fail("{}: an early row after {}", s.key, name_of(a.agent));
    const auto is_index = [&](const Procedure& p) { return p.source.reference == s.key; };
    const auto described = std::ranges::find_if(r.procedures, is_index);
    if (described != r.procedures.end() && (described->intervention == Tristate::yes || described->difficult || described->punctures.value_or(1) > 1 || !described->uncomplicated))
      fail("{}: an early row after an intervention or a puncture that was not plain", s.key);
    if (!s.last_check || s.last_check->wet() || s.last_check->at->latest < *s.t0) fail("{}: an early row without a dry check since haemostasis", s.key);
    return minutes{kArms[f - 4]};
  }
  static const Milestone* named(const SitePlan& s, Step step) {
    const auto found = std::ranges::find(s.milestones, step, &Milestone::step);
    return found == s.milestones.end() ? nullptr : &*found;
  }

  const Question& q_;
  std::string found_;
};

}  // namespace

std::string shape(const Question& q) { return Shape(q).look(); }

}  // namespace campaign
