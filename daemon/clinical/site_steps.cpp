#include "clinical/site_steps.h"

#include <algorithm>

#include "clinical/case_sites.h"
#include "clinical/clotting_test.h"
#include "clinical/decision.h"
#include "clinical/gate_list.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "clinical/orders.h"
#include "clinical/quantity.h"
#include "clinical/tally.h"
#include "clinical/worst_value.h"

namespace clinical {
namespace {

bool names(const CaseFacts& facts, const SiteFacts& site, const TaskFact& task) {
  if (facts.sites.size() == 1) return task.procedure.empty() || task.procedure == site.key;  // the only one is the index itself
  if (!task.procedure.empty() && task.procedure != facts.index.source.reference) return task.procedure == site.key;
  std::vector<const SiteFacts*> candidates;
  for (const auto& s : facts.sites) candidates.push_back(&s);
  const auto* meant_site = meant<const SiteFacts>({task.procedure, task.side, task.vessel}, candidates);
  return meant_site && meant_site->key == site.key;
}

const Gate* find_gate(const std::vector<Gate>& gates, GateName name) {
  const auto it = std::ranges::find(gates, name, &Gate::name);
  return it == gates.end() ? nullptr : &*it;
}

// A draw is wanted while the act or the aptt gate waits for a value, or its value will be stale when the last clock has run out.
bool draw_wanted(const std::vector<Gate>& gates, const Removal& removal) {
  const bool stale_then = removal.status == StepStatus::blocked && removal.expected;
  for (const auto name : {GateName::act, GateName::aptt})
    if (const auto* gate = find_gate(gates, name); gate && (gate->state != GateState::open || stale_then)) return true;
  return false;
}

std::optional<Instant> last_clock(const std::vector<Gate>& gates) {
  std::optional<Instant> last;
  for (const auto& gate : gates)
    for (const auto& at : {gate.opens_at, gate.clock_ends})
      last = std::max(last, at);
  return last;
}

// A value from before it clears nothing.
Instant last_dose(const SiteView& view) {
  Instant last = view.facts.start;
  for (const auto& a : view.facts.administrations)
    if (const auto& at = a.end ? a.end : a.start; at && !a.flush && view.clock.reached(at->latest)) last = std::max(last, at->latest);
  return last;
}

Milestone draw_at(const SiteView& view, Instant due) {
  Milestone m = milestone(Step::draw_coagulation);
  const auto& index = view.now.index();
  m.ordinal = static_cast<int>(index.of(Analyte::act).size() + index.of(Analyte::aptt).size()) + 1;
  set_clock(m, due, view.clock);
  m.latest = due;
  m.late = !view.clock.still(due);
  return m;
}

std::optional<Milestone> draw(const SiteWork& work, const Removal& removal, const std::optional<Projection>& projection) {
  const auto& p = work.view.protocol;
  std::optional<Instant> at = projection ? projection->next_draw : std::nullopt;
  const bool wanted = draw_wanted(work.view.gates, removal);
  if (const auto clock = last_clock(work.view.gates); clock) {  // none runs once every gate is open
    const Instant before = *clock - p.draw_before.span();
    at = at ? std::min(*at, before) : before;
  }
  if (!wanted) return std::nullopt;
  const Instant due = at ? *at : std::max(work.view.facts.procedure_end.value_or(work.view.facts.start), last_dose(work.view));
  Milestone m = draw_at(work.view, due);
  const auto* gate = find_gate(work.view.gates, GateName::act);
  if (const auto* aptt = find_gate(work.view.gates, GateName::aptt); aptt && (!gate || (aptt->state != GateState::open && gate->state == GateState::open))) gate = aptt;
  m.why = gate->why;
  m.basis.push_back({p.draw_before.rule.key, p.draw_before.rule.source, gate->inputs, {"draw.next", {{"at", due}}}});
  return m;
}

/// The repeat after protamine is drawn whether the sheath is in or out, as long as heparin may act again; it holds nothing back.
std::optional<Milestone> repeat_draw(const SiteWork& work) {
  const auto& view = work.view;
  const auto at = repeat_after_protamine(view.now);
  if (!at || view.clock.reached(*at + view.protocol.rebound_protamine.span())) return std::nullopt;
  const auto& setting = view.protocol.act_repeat_after_protamine;
  Milestone m = draw_at(view, *at);
  m.why = Reason{"draw.repeat-after-protamine", {{"at", *at}, {"after", setting.span()}}};
  m.basis.push_back({setting.rule.key, setting.rule.source, sources_of(doses_of(view.now, only(Agent::protamine))), {"draw.next", {{"at", *at}}}});
  return m;
}

/// The next draw of all that are wanted.
std::optional<Milestone> next_draw(const SiteWork& work, std::optional<Milestone> wanted) {
  auto repeat = repeat_draw(work);
  return !wanted || (repeat && *repeat->earliest < *wanted->earliest) ? std::move(repeat) : std::move(wanted);
}

Milestone pulled(const SiteWork& work) {
  Milestone m = milestone(Step::remove_sheath);
  m.status = work.site().sheath_out ? StepStatus::done : StepStatus::cancelled;
  m.actual = work.site().sheath_out;
  if (!m.actual) m.why = Reason{"removal.out-at-unknown-time", {}};
  for (const auto& gate : work.view.gates)
    if (gate.state != GateState::open)
      m.basis.push_back({gate.rule, gate.source, gate.inputs, {"removal.pulled-while", {{"gate", term("gate", name_of(gate.name))}, {"state", term("gate-state", name_of(gate.state))}}}});
  return m;
}

/// Every gate would be open then if nothing were recorded until then: no value that one of them rests on is too old by that time.
bool open_then(const SiteView& view, Instant at) {
  const Clock then(at);
  return view.clock.reached(at) || std::ranges::all_of(list_gates(SiteEvidence(view.now, then, view.clock.now())), [](const Gate& gate) { return gate.state == GateState::open; });
}

// An order that keeps it in, or in until a time: what the gates allow waits for it. Permission for a later time there is only while the values last.
void hold_for_order(Milestone& m, const SiteView& view) {
  const auto order = removal_order(view);
  if (!order) return;
  m.basis.push_back({"order.sheath-removal", {}, {order->order->source}, {"order.said", {{"what", order->order->title}}}});
  if (order->hold != OrderHold::not_before) {
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.why = why_held(*order);
    return;
  }
  const Instant at = *order->not_before;
  if (!m.earliest) {
    if (!m.expected || at > *m.expected) m.expected = at;
  } else if (at > *m.earliest && open_then(view, at)) {
    set_clock(m, at, view.clock);
    m.why = why_held(*order);
  } else if (at > *m.earliest) {
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.expected = at;
    m.why = Reason{"removal.not-before-fresh", {{"at", at}, {"draw", at - view.protocol.draw_before.span()}}};
  }
}

/// The last no to a step of the pull that no later decision on a step of it and no later confirmation has answered.
const Decision* refused_pull(const CaseFacts& facts) {
  const auto of_the_pull = [](const Decision& d) { return d.subject == name_of(Step::remove_sheath) || d.subject == name_of(Step::confirm_readiness); };
  const auto time_of = [&](const Decision& d) { return d.at ? d.at->latest : Instant::max(); };
  const Decision* last = nullptr;
  for (const auto& d : facts.decisions)
    if (of_the_pull(d) && d.refused && (!last || time_of(d) >= time_of(*last))) last = &d;
  if (!last) return nullptr;
  const auto decided = [&](const Decision& d) { return of_the_pull(d) && !d.refused && !d.performer.empty() && d.at && d.at->exact() && d.at->latest > time_of(*last); };
  const auto confirmed = completed(facts, nullptr, Step::confirm_readiness, last->at ? std::optional(last->at->latest + seconds{1}) : std::nullopt);
  return std::ranges::any_of(facts.decisions, decided) || (last->at && confirmed) ? nullptr : last;
}

Reason why_refused(const Decision& no) {
  return {"removal.refused", {{"what", term("step", no.subject)}, {"said", no.value_seen}, {"by", no.performer.empty() ? std::string("-") : no.performer}}};
}

Milestone removal_step(const SiteWork& work, const Removal& removal, const VeinWaits& waits) {
  Milestone m = milestone(Step::remove_sheath);
  m.basis = removal.basis;
  if (auto held = work.removal_held()) {
    m.why = std::move(held);
    return m;
  }
  m.status = removal.status;
  m.earliest = removal.earliest;
  m.expected = removal.expected;
  m.why = removal.why;
  if (waits.for_pull) {
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.why = Reason{"removal.artery-first", {}};
  } else if (waits.not_before && m.earliest) {
    set_clock(m, std::max(*m.earliest, *waits.not_before), work.view.clock);
    m.why = Reason{"removal.with-artery", {{"at", *waits.not_before}}};
  }
  // Nobody pulls before it is settled how the groin may be pressed.
  if (work.hold.ask && !work.hold_ordered) {
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.why = work.hold.ask;
  }
  hold_for_order(m, work.view);
  if (const auto* no = refused_pull(work.view.facts)) {
    m.status = StepStatus::blocked;
    m.earliest.reset();
    m.why = why_refused(*no);
    m.basis.push_back({"step.refused", {}, {no->source}, *m.why});
  }
  return m;
}

// A confirmation stands for the time since which every gate is open; an older one does not count.
Milestone confirmation(const SiteWork& work, const Milestone& removal) {
  Milestone m = removal;
  m.step = Step::confirm_readiness;
  m.basis.clear();
  for (const auto& task : work.view.facts.tasks)
    if (task.step == name_of(Step::confirm_readiness) && task.state == TaskState::completed && task.changed && m.earliest && task.changed->latest < *m.earliest &&
        names(work.view.facts, work.site(), task))
      ++m.ordinal;
  if (m.status != StepStatus::due) return m;
  if (const auto at = completed(work.view.facts, &work.site(), Step::confirm_readiness, m.earliest)) {
    m.status = StepStatus::done;
    m.actual = at;
  }
  return m;
}

// From the start of the case to the pull. Of a sheath that came out at a time that nobody recorded it is not known whether a confirmation came first.
Milestone confirmed_before_pull(const SiteWork& work) {
  Milestone m = milestone(Step::confirm_readiness);
  const auto& out = work.site().sheath_out;
  const auto at = completed(work.view.facts, &work.site(), Step::confirm_readiness, work.view.facts.start);
  if (out && at && *at <= *out) m.actual = at;
  m.status = m.actual ? StepStatus::done : StepStatus::cancelled;
  return m;
}

}  // namespace

Milestone milestone(Step step, std::optional<Reason> why) {
  Milestone m;
  m.step = step;
  m.why = std::move(why);
  return m;
}

void set_clock(Milestone& m, Instant earliest, const Clock& clock) {
  m.earliest = m.expected = earliest;
  m.status = clock.reached(earliest) ? StepStatus::due : StepStatus::expected;
}

std::optional<Instant> completed(const CaseFacts& facts, const SiteFacts* site, Step step, std::optional<Instant> since) {
  for (const auto& task : facts.tasks) {
    if (task.step != name_of(step) || task.state != TaskState::completed || !task.changed) continue;
    if (site && !names(facts, *site, task)) continue;
    if (since && task.changed->latest < *since) continue;
    return task.changed->latest;  // they stand by time: the first
  }
  return std::nullopt;
}

std::vector<Milestone> removal_steps(const SiteWork& work, const std::optional<Projection>& projection, const VeinWaits& waits) {
  const auto& view = work.view;
  if (work.site().out()) {
    std::vector<Milestone> steps{confirmed_before_pull(work), pulled(work)};
    if (!work.scope)
      if (auto repeat = repeat_draw(work)) steps.insert(steps.begin(), std::move(*repeat));
    return steps;
  }
  const auto removal = removal_at(view.now, view.gates, projection);
  std::vector<Milestone> steps;
  if (!work.scope)
    if (auto next = next_draw(work, draw(work, removal, projection))) steps.push_back(std::move(*next));
  const Milestone pull = removal_step(work, removal, waits);
  steps.push_back(confirmation(work, pull));
  steps.push_back(pull);
  return steps;
}

namespace {

void add_length(Milestone& m, const SiteWork& work, minutes length) {
  if (!work.scope) m.planned = length;
}

// Before the sheath is out the lengths are known and no instant is.
void place_in_hold(Milestone& m, const SiteWork& work, minutes offset) {
  const auto& site = work.site();
  if (auto held = work.hold_held()) {
    m.why = std::move(held);
  } else if (!site.out()) {
    m.why = Reason{"hold.after-sheath-out", {}};
  } else if (!work.hold_start()) {
    // Where it bleeds, swells or a closure failed somebody is to press at once; from when the rest counts is not known before it is recorded.
    if (!site.holds.empty() && offset == minutes{0}) set_clock(m, site.holds.back().start, work.view.clock);
    m.why = Reason{"hold.start-unknown", {}};
  } else {
    set_clock(m, *work.hold_start() + offset, work.view.clock);
  }
}

/// The newest fresh reading; the highest of several of one instant.
const Measurement* pressure_now(const SiteView& view, Analyte analyte) {
  const Measurement* newest = nullptr;
  for (const auto* m : pressures_at(view, analyte, view.clock.now()))
    if (!newest || m->at->latest > newest->at->latest || (m->at->latest == newest->at->latest && m->value->micro > newest->value->micro)) newest = m;
  return newest && newest->value->exact() ? newest : nullptr;
}

/// What the device is set to: only where the protocol says how, and from a fresh reading; else the operator sets it.
void say_pressure(Milestone& m, const SiteView& view) {
  const auto& p = view.protocol;
  m.why = Reason{"hold.pressure-by-operator", {}};
  const auto set = [&](const Setting& setting, Micro micro, Reason line, std::vector<Source> inputs) {
    m.why = Reason{"hold.pressure-set", {{"pressure", computed(micro, "mmHg")}}};
    m.basis.push_back({setting.rule.key, setting.rule.source, std::move(inputs), std::move(line)});
  };
  if (m.step == Step::low_pressure_hold && p.pressure_low) return set(*p.pressure_low, p.pressure_low->micro, {"hold.pressure-low", {{"pressure", as_value(*p.pressure_low)}}}, {});
  const bool full = m.step == Step::firm_compression;
  const auto& setting = full ? p.pressure_full : p.pressure_partial;
  if (!setting || (!full && m.step != Step::partial_compression)) return;
  const auto* systolic = pressure_now(view, Analyte::systolic);
  const auto* from = full ? systolic : pressure_now(view, Analyte::mean_pressure);
  if (!from || !systolic) {
    m.why = Reason{full ? "hold.pressure-needs-systolic" : "hold.pressure-needs-mean", {}};
    return;
  }
  const Micro micro = from->value->micro + setting->micro;
  if (!full && micro >= systolic->value->micro) return;  // partial pressure leaves the foot its pulse
  set(*setting, micro,
      {full ? "hold.pressure-over-systolic" : "hold.pressure-over-mean", {{"reading", *from->value}, {"at", when(*from->at)}, {"more", as_value(*setting)}, {"pressure", computed(micro, "mmHg")}}},
      {from->source});
}

// Done where somebody recorded it, at the time that they recorded. A hold that is over makes the phases that nobody recorded no longer apply:
// whether and when they were kept is not known.
Milestone phase_step(const SiteWork& work, const Phase& phase, minutes offset) {
  const auto& site = work.site();
  Milestone m = milestone(phase.step);
  add_length(m, work, phase.length);
  const bool held = work.hold_held().has_value();
  const bool over = site.t0 || (site.haemostasis_unconfirmed && !held);
  const auto since = site.holds.empty() ? std::nullopt : std::optional(site.holds.back().start);
  if (over || (site.out() && since && !held)) m.actual = completed(work.view.facts, &site, phase.step, since);
  if (m.actual) {
    m.status = StepStatus::done;
  } else if (over) {
    m.status = StepStatus::cancelled;
    m.why = Reason{"hold.phase-not-recorded", {}};
  } else {
    place_in_hold(m, work, offset);
    if (work.scope && site.out() && offset == minutes{0}) m.why = Reason{"hold.keep-pressing", {}};  // no time is given, and the hand stays on the groin
    if (m.earliest && !m.why && work.hold.method == Closure::mechanical) say_pressure(m, work.view);
    if (m.earliest && phase.step == Step::firm_compression && site.direction == Direction::antegrade) m.why = Reason{"hold.antegrade", {}};
  }
  return m;
}

Milestone ending(const SiteWork& work) {
  const auto& site = work.site();
  Milestone m = milestone(Step::end_compression);
  add_length(m, work, work.hold.total);
  if (!work.scope) m.basis = work.hold.basis;  // no length is given: nothing explains one
  if (site.t0) {
    m.status = StepStatus::done;
    m.actual = site.t0;
    return m;
  }
  place_in_hold(m, work, work.hold.total);
  if (site.haemostasis_unconfirmed && !site.holds.empty() && !work.hold_held()) {
    set_clock(m, *site.holds.back().end, work.view.clock);
    m.why = Reason{"hold.confirm-haemostasis", {{"at", *site.holds.back().end}}};
  }
  if (!work.scope && m.earliest && work.hold_start())
    m.basis.push_back({"hold.sum", "derived: the sum of the lines above", {}, {"sum.hold", {{"from", *work.hold_start()}, {"length", seconds{work.hold.total}}, {"to", *work.hold_start() + work.hold.total}}}});
  return m;
}

Milestone dressing(const SiteWork& work) {
  const auto& site = work.site();
  Milestone m = milestone(Step::dress_site);
  if (!site.t0) {
    m.why = work.hold_held();
    if (!m.why) m.status = StepStatus::expected;
    if (!work.scope) m.after_t0 = minutes{0};
  } else if (const auto at = completed(work.view.facts, &site, Step::dress_site, site.t0)) {
    m.status = StepStatus::done;
    m.actual = at;
  } else {
    set_clock(m, *site.t0, work.view.clock);
    m.after_t0 = minutes{0};
  }
  return m;
}

}  // namespace

std::vector<Milestone> hold_steps(const SiteWork& work) {
  std::vector<Milestone> steps;
  minutes offset{0};
  for (const auto& phase : work.hold.phases) {
    steps.push_back(phase_step(work, phase, offset));
    offset += phase.length;
  }
  steps.push_back(ending(work));
  steps.push_back(dressing(work));
  return steps;
}

namespace {

/// When the newest of what a gate asks about was measured or given; none: it rests on nothing recorded.
std::optional<Instant> asked_since(const CaseFacts& facts, const Gate& gate) {
  std::optional<Instant> since;
  const auto take = [&](const Source& source, const std::optional<Moment>& at) {
    if (at && at->exact() && std::ranges::find(gate.inputs, source) != gate.inputs.end()) since = std::max(since.value_or(facts.start), at->latest);
  };
  for (const auto& m : facts.measurements) take(m.source, m.at);
  for (const auto& a : facts.administrations) take(a.source, a.end ? a.end : a.start);
  return since;
}

Milestone call(const SiteWork& work, int ordinal, const Reason& why, const Decision* answer, std::optional<Instant> since = {}) {
  Milestone m = milestone(Step::call_clinician, why);
  m.ordinal = ordinal;
  set_clock(m, since.value_or(work.view.facts.start), work.view.clock);
  if (!answer) return m;
  m.status = StepStatus::done;
  m.actual = answer->at->latest;
  return m;
}

/// The first clotting gate that a known fact kept from being open when the sheath was taken out by hand; null: none, or it is still in.
const Gate* pulled_against(const SiteWork& work) {
  if (!work.site().sheath_out || work.view.closed_by_device()) return nullptr;
  const auto against = [](const Gate& g) { return (is_coagulation_gate(g.name) || g.name == GateName::platelets) && (g.state == GateState::closed || g.state == GateState::ask); };
  const auto found = std::ranges::find_if(work.view.gates, against);
  return found == work.view.gates.end() ? nullptr : &*found;
}

/// A clinician's decision on the pull since the sheath is out.
const Decision* decided_since(const CaseFacts& facts, Instant out) {
  const auto found = std::ranges::find_if(facts.decisions, [&](const Decision& d) {
    return d.subject == name_of(Step::remove_sheath) && !withdrawn(d, facts.decisions) && !d.performer.empty() && d.at && d.at->exact() && d.at->latest >= out;
  });
  return found == facts.decisions.end() ? nullptr : &*found;
}

}  // namespace

std::vector<Milestone> calls(const SiteWork& work) {
  std::vector<Milestone> steps;
  if (work.view.facts.provisional) return steps;
  if (work.scope) {
    steps.push_back(call(work, 1, *work.scope, nullptr));
    return steps;
  }
  const auto& facts = work.view.facts;
  int gate_ask = kFirstGateCall;
  if (!work.site().out())
    for (const auto& gate : work.view.gates)
      if (gate.state == GateState::ask) steps.push_back(call(work, gate_ask++, gate.why, nullptr, asked_since(facts, gate)));
  if (work.hold.ask && !work.site().t0) {
    steps.push_back(call(work, 2, *work.hold.ask, decision_on(facts, Step::end_compression, work.hold.total)));
    if (work.hold_ordered && steps.back().status != StepStatus::done) steps.pop_back();
  }
  if (const auto order = work.site().out() ? std::nullopt : removal_order(work.view); order && order->hold == OrderHold::unclear) steps.push_back(call(work, 4, why_held(*order), nullptr));
  if (const auto* gate = pulled_against(work)) {
    const Reason why{"removal.pulled-against", {{"gate", term("gate", name_of(gate->name))}, {"state", term("gate-state", name_of(gate->state))}}};
    steps.push_back(call(work, 6, why, decided_since(facts, *work.site().sheath_out), *work.site().sheath_out));
  }
  if (const auto* no = work.site().out() ? nullptr : refused_pull(facts)) steps.push_back(call(work, 5, why_refused(*no), nullptr, no->at ? std::optional(no->at->latest) : std::nullopt));
  if (work.rest.ask) steps.push_back(call(work, 3, *work.rest.ask, decision_on(facts, Step::stand_and_walk, work.rest.walk), work.site().t0));
  return steps;
}

}  // namespace clinical
