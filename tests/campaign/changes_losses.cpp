#include <algorithm>
#include <utility>

#include "changes.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "teller.h"

namespace campaign {

using namespace clinical;

namespace {

/// A value that speaks against the patient: without it an alert would end.
bool speaks_up(const Before& before) {
  return std::ranges::any_of(before.plans, [](const CasePlan& p) { return std::ranges::any_of(p.alerts, [](const Alert& a) { return a.site.empty(); }); });
}

bool drop(Record& r, Analyte analyte) { return std::erase_if(r.measurements, [&](const Measurement& m) { return m.analyte == analyte; }) > 0; }

/// A value that only counts where it is demanded may be lost where its gate is open: there a loss says nothing good.
bool drop_where_open(Record& r, const Before& before, Analyte analyte, GateName gate) {
  const auto state = worst_state(before.plans, gate);
  if ((!every_sheath_out(before.plans) && state != GateState::open) || speaks_up(before)) return false;
  return drop(r, analyte);
}

/// Some creatinine is higher than an earlier one by what makes it unstable (0.3 mg/dL or half; whether within its days is not asked).
bool creatinine_rises(const Record& r) {
  const auto readable = [](const Measurement& m) { return m.analyte == Analyte::creatinine && m.value && m.at; };
  return std::ranges::any_of(r.measurements, [&](const Measurement& a) {
    return readable(a) && std::ranges::any_of(r.measurements, [&](const Measurement& b) {
      return readable(b) && b.at->earliest <= a.at->latest && (a.value->micro - b.value->micro >= 300'000 || a.value->micro * 2 >= b.value->micro * 3);
    });
  });
}
bool by_long_hold(const Record& r) {
  const auto held = [](const auto& d) { return is_direct_oral(d.agent) || d.agent == Agent::fondaparinux; };
  return std::ranges::any_of(r.administrations, held) || std::ranges::any_of(r.home_drugs, held);
}

/// The newest value loses what it says, or its time its precision.
bool spoil(Record& r, const Before& before, Picks& pick, Analyte analyte, GateName gate) {
  const auto state = worst_state(before.plans, gate);
  if ((state && state != GateState::open) || speaks_up(before)) return false;
  Measurement* newest = nullptr;
  for (auto& m : r.measurements)
    if (m.analyte == analyte && m.at && (!newest || m.at->latest >= newest->at->latest)) newest = &m;
  if (!newest) return false;
  if (pick.one_in(2)) newest->value.reset();
  else newest->at = Moment{at(0), at(23, 59, 59)};
  return true;
}

Procedure& some_procedure(Record& r, Picks& pick) { return r.procedures[static_cast<std::size_t>(pick.below(static_cast<int>(r.procedures.size())))]; }

/// No event says it too: what is left would be surer than before.
bool nobody_says(const Record& r, bool (*says)(const AccessEvent&)) { return std::ranges::none_of(r.access_events, says); }

bool lose_doses(Record& r, const Before& before, Picks&) {
  // Heparin after a T0 begins the watch anew: an observed event.
  for (const auto& plan : before.plans)
    for (const auto& site : plan.sites)
      if (site.t0 && std::ranges::any_of(r.administrations, [&](const Administration& a) { return a.start && a.start->latest > *site.t0; })) return false;
  // Warfarin demands an INR; nobody demands one for a drug that nobody recorded.
  if (std::ranges::any_of(r.administrations, [](const Administration& a) { return a.agent == Agent::warfarin; })) return false;
  // That heparin was given in spite of a recorded heparin-induced thrombocytopenia is told of a dose that somebody recorded: an observed event.
  if (std::ranges::any_of(r.risks, [](const Risk& risk) { return risk.kind == RiskKind::heparin_induced_thrombocytopenia && risk.present; })) return false;
  // What was told of home may contradict a dose before the start: that ends with the dose.
  if (!r.statements.empty() && std::ranges::any_of(r.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; })) return false;
  std::erase_if(r.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given; });
  return std::erase_if(r.administrations, [](const Administration& a) { return is_anticoagulant(a.agent); }) > 0;
}

/// A dose of which less is known than before.
bool blur_dose(Record& r, const Before& before, Picks& pick) {
  const auto history = worst_state(before.plans, GateName::anticoagulant_history);
  if (history && history != GateState::open) return false;
  if (r.administrations.empty()) return false;
  auto& a = r.administrations[static_cast<std::size_t>(pick.below(static_cast<int>(r.administrations.size())))];
  if (a.flush || !(is_anticoagulant(a.agent) || is_gp_inhibitor(a.agent) || is_fibrinolytic(a.agent))) return false;
  switch (pick.below(4)) {
    case 0: a.end.reset(), a.bolus = false; break;
    case 1: a.route = Route::unknown; break;
    case 2: a.dose.reset(); break;
    default:   // the adds of a drug that nobody recorded are observed events
      if (is_gp_inhibitor(a.agent) || is_fibrinolytic(a.agent) || a.agent == Agent::warfarin || speaks_up(before)) return false;   // and an INR, or a fall of the platelets, is watched for a recorded one
      a.agent = Agent::unidentified;
      break;
  }
  return true;
}

}  // namespace

const std::vector<Change>& losses() {
  static const std::vector<Change> all{
      // "A coagulation-test-unavailable statement ends with a later test": without the test nothing ends it, and its clock stands in for the ACT.
      {"every ACT lost", [](Record& r, const Before& b, Picks&) {
         const bool unavailable = std::ranges::any_of(r.statements, [](const Statement& s) { return s.kind == StatementKind::coagulation_test_unavailable; });
         return !unavailable && drop_where_open(r, b, Analyte::act, GateName::act);
       }},
      // Law 3 speaks of a fact that a rule demands. No rule demands an aPTT beside an ACT: its gate exists only where one was drawn, so one at or over
      // the limit closes it and its loss takes the gate away ("aptt exists only where an aPTT was drawn after the last dose"). Only good ones may go.
      {"every aPTT lost", [](Record& r, const Before& b, Picks&) {
         const bool good = std::ranges::all_of(r.measurements, [](const Measurement& m) { return m.analyte != Analyte::aptt || (m.value && m.at && m.at->exact() && m.value->surely_below(whole(45))); });
         return good && drop_where_open(r, b, Analyte::aptt, GateName::aptt);
       }},
      {"every INR lost", [](Record& r, const Before& b, Picks&) {
         const bool low = std::ranges::all_of(r.measurements, [](const Measurement& m) { return m.analyte != Analyte::inr || (m.value && m.value->surely_below(whole(1) + 500'001)); });
         return low && drop_where_open(r, b, Analyte::inr, GateName::warfarin_inr) && worst_state(b.plans, GateName::home_anticoagulants) != GateState::open;
       }},
      {"every fibrinogen lost", [](Record& r, const Before& b, Picks&) { return drop_where_open(r, b, Analyte::fibrinogen, GateName::fibrinolytic); }},
      {"every platelet count lost", [](Record& r, const Before& b, Picks&) { return !speaks_up(b) && drop(r, Analyte::platelets); }},
      {"every haemoglobin lost", [](Record& r, const Before& b, Picks&) { return !speaks_up(b) && drop(r, Analyte::haemoglobin); }},
      // "Unstable creatinine: no clock alone", but a clearance that is not known takes "the worst row that does not block": the long hold of a direct
      // oral anticoagulant or of fondaparinux may then have run out. A value that blocks is lost to one that by its class does not.
      {"every creatinine lost", [](Record& r, const Before&, Picks&) { return !(creatinine_rises(r) && by_long_hold(r)) && drop(r, Analyte::creatinine); }},
      {"every weight lost", [](Record& r, const Before&, Picks&) { return drop(r, Analyte::weight); }},
      {"every height lost", [](Record& r, const Before&, Picks&) { return drop(r, Analyte::height); }},
      {"every heart rate lost", [](Record& r, const Before& b, Picks&) { return !speaks_up(b) && drop(r, Analyte::heart_rate); }},
      {"every pressure before the pull lost", [](Record& r, const Before& b, Picks&) {
         if (speaks_up(b)) return false;
         Instant pull = b.now;
         for (const auto& p : b.plans)
           for (const auto& s : p.sites)
             if (s.sheath_out) pull = std::min(pull, *s.sheath_out);
         return std::erase_if(r.measurements, [&](const Measurement& m) { return m.analyte == Analyte::systolic && (!m.at || m.at->latest <= pull); }) > 0;
       }},
      {"every check lost", [](Record& r, const Before& b, Picks&) {
         if (every_sheath_out(b.plans)) return false;   // observed events: not recorded adds nothing
         const bool any = !r.checks.empty();
         const bool trouble = std::ranges::any_of(r.checks, [](const SiteCheck& c) { return !c.complete() || c.bleeding != Bleeding::none || c.swelling->micro > 0 || *c.growth || c.foot_pulse != FootPulse::as_baseline || c.back_pain; });
         r.checks.clear();
         const bool disputed = std::ranges::any_of(b.plans, [](const CasePlan& p) { return !p.conflicts.empty(); });   // some end with the check
         return any && !trouble && !disputed;
       }},
      {"an ACT spoilt", [](Record& r, const Before& b, Picks& p) {
         // After bivalirudin with good kidneys none is demanded: one over the limit blocks, and ends to with its value.
         const bool over = std::ranges::any_of(r.measurements, [](const Measurement& m) { return m.analyte == Analyte::act && m.value && !m.value->surely_below(whole(150)); });
         const bool bivalirudin = std::ranges::any_of(r.administrations, [](const Administration& a) { return a.agent == Agent::bivalirudin; });
         return !(over && bivalirudin) && spoil(r, b, p, Analyte::act, GateName::act);
       }},
      {"platelets spoilt", [](Record& r, const Before& b, Picks& p) { return spoil(r, b, p, Analyte::platelets, GateName::platelets); }},
      {"a haemoglobin spoilt", [](Record& r, const Before& b, Picks& p) { return spoil(r, b, p, Analyte::haemoglobin, GateName::haemoglobin); }},
      {"a heart rate spoilt", [](Record& r, const Before& b, Picks& p) { return spoil(r, b, p, Analyte::heart_rate, GateName::heart_rate); }},
      {"a pressure spoilt", [](Record& r, const Before& b, Picks& p) { return !every_sheath_out(b.plans) && spoil(r, b, p, Analyte::systolic, GateName::blood_pressure); }},
      {"the doses and the statements lost", lose_doses},
      {"less known of a dose", blur_dose},
      {"what was taken at home lost", [](Record& r, const Before&, Picks&) {
         // What is left tells nothing of home; a drug that was recorded as taken had its own rule, which only counts for more.
         const bool oral = std::ranges::any_of(r.administrations, [](const Administration& a) { return is_direct_oral(a.agent) || a.agent == Agent::warfarin || is_low_molecular_weight_heparin(a.agent) || a.agent == Agent::fondaparinux; });
         // How old its INR may be is demanded for warfarin that was recorded.
         if (std::ranges::any_of(r.home_drugs, [](const HomeDrug& d) { return d.agent == Agent::warfarin && d.taken; })) return false;
         const bool any = !r.home_lists.empty() || !r.home_drugs.empty();
         r.home_lists.clear(), r.home_drugs.clear();
         std::erase_if(r.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
         return any && !oral;
       }},
      {"that the puncture was plain lost", [](Record& r, const Before&, Picks& p) { auto& q = some_procedure(r, p); return std::exchange(q.uncomplicated, false); }},
      {"every check lost after a clean hold", [](Record& r, const Before& b, Picks&) {
         // Nothing was ever found, so that nothing good is lost with a finding; an alert of a missed check is an alert more.
         const bool clean = std::ranges::all_of(r.checks, [](const SiteCheck& c) { return c.at && c.complete() && !c.wet() && c.swelling->micro == 0 && !*c.growth && c.foot_pulse == FootPulse::as_baseline && !c.back_pain; });
         const bool disputed = std::ranges::any_of(b.plans, [](const CasePlan& p) { return !p.conflicts.empty(); });
         const bool any = !r.checks.empty();
         r.checks.clear();
         return any && clean && !disputed && every_sheath_out(b.plans);
       }},
      {"the birth date lost", [](Record& r, const Before&, Picks&) { const bool had = r.patient.birth.has_value(); r.patient.birth.reset(); return had; }},
      {"the sex lost", [](Record& r, const Before&, Picks&) { r.patient.sex = Sex::unknown; return true; }},
      {"the side lost", [](Record& r, const Before&, Picks& p) { auto& q = some_procedure(r, p); q.sides.clear(); return r.procedures.size() == 1 && nobody_says(r, [](const AccessEvent& e) { return e.side != Side::unknown; }); }},
      {"the size lost", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).french.clear(); return nobody_says(r, [](const AccessEvent& e) { return e.french.has_value(); }); }},
      {"the vessel lost", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).vessels.clear(); return r.procedures.size() == 1 && nobody_says(r, [](const AccessEvent& e) { return e.vessel != Vessel::unknown; }); }},
      {"the closure lost", [](Record& r, const Before&, Picks& p) {
         auto& q = some_procedure(r, p);
         const bool device = std::ranges::any_of(q.closures, [](const auto& c) { return c.value == Closure::device || c.value == Closure::suture; });
         q.closures.clear();
         return !device && nobody_says(r, [](const AccessEvent& e) { return e.method != Closure::unknown; });
       }, false, false},   // and what counts as a haemostasis
      {"whether it was an intervention lost", [](Record& r, const Before&, Picks& p) { auto& q = some_procedure(r, p); q.intervention = Tristate::unknown; return r.procedures.size() == 1; }},
      {"the start known to the day", [](Record& r, const Before& b, Picks&) {
         auto& p = r.procedures.front();
         if (!p.start || !p.start->exact()) return false;
         // A statement counts from the start on: of one made before, that day, nobody could say so any more.
         if (std::ranges::any_of(r.statements, [&](const Statement& s) { return s.at && s.at->earliest < p.start->earliest; })) return false;
         p.start = Moment{at(0), at(23, 59, 59)};
         // What lay before the start may then lie after it: no conflict any more, and a value of the procedure.
         const bool disputed = std::ranges::any_of(b.plans, [](const CasePlan& plan) { return !plan.conflicts.empty(); });
         const bool unreadable = std::ranges::any_of(r.measurements, [](const Measurement& m) { return !m.value || !m.value->exact(); });
         return r.procedures.size() == 1 && !disputed && !unreadable;
       }},
      {"haemostasis not confirmed", [](Record& r, const Before& b, Picks& p) {
         const auto site = some_procedure(r, p).source.reference;
         for (const auto& plan : b.plans)   // a second hold would no longer be one after a rebleed
           for (const auto& s : plan.sites)
             if (s.key == site && (!s.t0 || s.haemostases != 1)) return false;
         const bool lost = std::erase_if(r.access_events, [&](const AccessEvent& e) { return e.procedure == site && e.kind == AccessEventKind::haemostasis_confirmed; }) > 0;
         // One that names no site may be this one's, at another time.
         return lost && std::ranges::none_of(r.access_events, [](const AccessEvent& e) { return e.procedure.empty() && e.kind == AccessEventKind::haemostasis_confirmed; });
       }, true, false},
  };
  return all;
}

}  // namespace campaign
