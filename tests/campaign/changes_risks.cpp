#include <algorithm>

#include "changes.h"
#include "clinical/gates.h"
#include "clinical/names.h"
#include "teller.h"

namespace campaign {

using namespace clinical;
using enum AccessEventKind;

namespace {

Source added(const char* what) { return {std::string("Added/") + what, "1", false}; }
Instant early(const Before& before, Picks& pick) { return before.now - minutes{5 * pick.below(48)}; }

bool risk(Record& r, RiskKind kind, Picks& pick, bool sided = false) {
  Risk added_{added("risk"), kind, true, Side::unknown, exactly(at(0)), {}};
  if (sided && pick.one_in(3)) added_.side = pick.one_in(2) ? Side::left : Side::right;
  r.risks.push_back(std::move(added_));
  return true;
}

Measurement measured(Analyte analyte, double value, Instant when) {
  Measurement m;
  m.source = added("observation");
  m.analyte = analyte;
  m.value = amount(value, "");
  m.at = exactly(when);
  m.analyser = "analyser A";
  m.sampling_site = "arterial sheath";
  m.test_code = name_of(analyte);
  return m;
}
/// A value so bad that no other can be worse: it may not help by being newer.
bool bad(Record& r, const Before& before, Picks& pick, Analyte analyte, double value) {
  r.measurements.push_back(measured(analyte, value, early(before, pick)));
  return true;
}

/// The newest value of a kind, worse by `by`; which of two of one instant is newest is not said.
bool worse(Record& r, Analyte analyte, double by) {
  Measurement* newest = nullptr;
  for (auto& m : r.measurements)
    if (m.analyte == analyte && m.at && m.value && m.value->exact() && (!newest || m.at->latest >= newest->at->latest)) newest = &m;
  if (!newest) return false;
  // A fall is measured from the highest before: the lower baseline of a newer open interval is a lesser fall, and no worse value.
  if (std::ranges::any_of(r.measurements, [&](const Measurement& m) { return m.analyte == analyte && m.at && m.value && !m.value->exact() && m.at->latest >= newest->at->latest; })) return false;
  const double value = static_cast<double>(newest->value->micro) / 1e6 + by;
  if (value <= 0) return false;
  *newest->value = amount(value, "");
  return true;
}

/// Tells the history: of the kind given for a procedure and no flush ("clears nothing, resets nothing"), surely from the look-back to the first pull.
bool tells_history(const Administration& a, const Before& before) {
  Instant pull = before.now;
  for (const auto& plan : before.plans)
    for (const auto& site : plan.sites)
      if (site.sheath_out) pull = std::min(pull, *site.sheath_out);
  const bool oral = is_direct_oral(a.agent) || a.agent == Agent::warfarin;
  return is_anticoagulant(a.agent) && !oral && !a.flush && a.status != AdministrationStatus::unknown && a.start && a.start->earliest >= at(6) && a.start->latest <= pull;
}
/// What the history is must be known, or a dose would tell it; so with what was taken at home.
bool history_told(const Before& before) {
  const auto& r = before.record;
  const bool told = std::ranges::any_of(r.statements, [](const Statement& s) { return s.kind == StatementKind::no_anticoagulant_given && s.at && s.at->earliest >= at(12); }) ||
                    std::ranges::any_of(r.administrations, [&](const Administration& a) { return tells_history(a, before); });
  const auto gate = worst_state(before.plans, GateName::anticoagulant_history);
  return told && (!gate || gate == GateState::open);
}
bool home_told(const Before& before) {
  const auto& r = before.record;
  // That a drug was not taken tells nothing of the others ("home is told by a statement, a list, a request or dispense with a last dose"): one more
  // that was taken then tells what was not known, and is no risk beside it. Nor does an aspirin tell of them ("high watch, nothing added").
  const auto tells = [](const HomeDrug& d) { return is_anticoagulant(d.agent) && d.taken && (d.last_dose || !d.told_by_request); };
  const bool told = std::ranges::any_of(r.home_lists, [&](const HomeList& l) { return l.nil_known || !r.home_drugs.empty(); }) || std::ranges::any_of(r.home_drugs, tells) ||
                    std::ranges::any_of(r.statements, [](const Statement& s) { return s.kind == StatementKind::no_home_anticoagulant; });
  const auto gate = worst_state(before.plans, GateName::home_anticoagulants);
  return told && (!gate || gate == GateState::open);
}

constexpr Agent kBleeders[] = {Agent::heparin, Agent::enoxaparin, Agent::dalteparin, Agent::tinzaparin, Agent::fondaparinux, Agent::bivalirudin, Agent::argatroban,
                               Agent::eptifibatide, Agent::tirofiban, Agent::abciximab, Agent::warfarin, Agent::apixaban, Agent::rivaroxaban, Agent::edoxaban,
                               Agent::dabigatran, Agent::alteplase, Agent::tenecteplase, Agent::reteplase, Agent::other_antithrombotic, Agent::unidentified};

/// "aptt exists only where an aPTT was drawn after the last dose": one at or over its limit closes no gate any more once a dose follows it. What speaks
/// then is the test after that dose, of which either will do.
bool outdates_aptt(const Record& r, Agent agent, Instant given) {
  const bool measured = agent == Agent::heparin || agent == Agent::bivalirudin || agent == Agent::argatroban;
  return measured && std::ranges::any_of(r.measurements, [&](const Measurement& m) { return m.analyte == Analyte::aptt && m.at && m.at->earliest <= given; });
}

bool dose(Record& r, const Before& before, Picks& pick) {
  if (!history_told(before) || !home_told(before)) return false;
  Administration a;
  a.source = added("administration");
  a.agent = pick.of(kBleeders);
  a.name = name_of(a.agent);
  a.status = AdministrationStatus::completed;
  a.route = Route::intravenous;
  a.start = a.end = exactly(early(before, pick));
  a.bolus = true;
  const int shape = pick.below(4);
  if (shape == 1) a.bolus = false, a.end.reset(), a.status = AdministrationStatus::in_progress;
  if (shape == 2) a.bolus = false, a.end.reset();
  a.dose = Dose{amount(5000, "U"), DoseUnit::international_unit, false};
  if (outdates_aptt(r, a.agent, shape == 1 ? before.now : a.start->latest)) return false;
  r.administrations.push_back(std::move(a));
  return true;
}

bool home(Record& r, const Before& before, Picks& pick) {
  if (!home_told(before)) return false;
  static constexpr Agent kTaken[] = {Agent::warfarin, Agent::apixaban, Agent::rivaroxaban, Agent::dabigatran, Agent::edoxaban, Agent::enoxaparin, Agent::fondaparinux,
                                     Agent::aspirin, Agent::ticagrelor, Agent::other_antithrombotic};
  HomeDrug d;
  d.source = added("home");
  d.agent = pick.of(kTaken);
  d.name = name_of(d.agent);
  d.last_dose = exactly(at(10 - pick.below(100)));
  d.recorded = exactly(at(9));
  r.home_drugs.push_back(std::move(d));
  return true;
}

Procedure& some_procedure(Record& r, Picks& pick) { return r.procedures[static_cast<std::size_t>(pick.below(static_cast<int>(r.procedures.size())))]; }

AccessEvent happened(Record& r, AccessEventKind kind, Instant when, Picks& pick) {
  AccessEvent e;
  e.source = added("event");
  e.kind = kind;
  e.at = exactly(when);
  e.procedure = some_procedure(r, pick).source.reference;
  return e;
}

/// Bleeding again, after the last T0 of its site.
bool bleeds_again(Record& r, const Before& before, Picks& pick) {
  auto e = happened(r, pick.one_in(2) ? rebleed : compression_started, {}, pick);
  for (const auto& plan : before.plans)
    for (const auto& site : plan.sites)
      if (site.key == e.procedure && site.t0 && *site.t0 < before.now) {
        e.at = exactly(*site.t0 + (before.now - *site.t0) * (1 + pick.below(9)) / 10);
        if (e.at->latest <= *site.t0) return false;
        r.access_events.push_back(e);
        return true;
      }
  return false;
}

/// A check that is as bad as can be in one way.
bool finding(Record& r, const Before& before, Picks& pick) {
  SiteCheck c;
  c.source = added("check");
  c.at = exactly(early(before, pick));
  c.procedure = some_procedure(r, pick).source.reference;
  c.bleeding = Bleeding::bleeding;
  c.swelling = amount(12, "cm");
  c.growth = true;
  c.foot_pulse = FootPulse::absent;
  r.checks.push_back(std::move(c));
  return true;
}

/// A check on record finds something that it did not.
bool found_worse(Record& r, const Before&, Picks& pick) {
  if (r.checks.empty()) return false;
  auto& c = r.checks[static_cast<std::size_t>(pick.below(static_cast<int>(r.checks.size())))];
  switch (pick.below(6)) {
    case 0: c.bleeding = Bleeding::bleeding; break;
    case 1: c.bleeding = c.bleeding == Bleeding::bleeding ? Bleeding::bleeding : Bleeding::ooze; break;
    case 2: c.swelling = amount(c.swelling && c.swelling->micro > whole(3) ? 9 : 3, "cm"); break;
    case 3: c.growth = true; break;
    case 4: c.foot_pulse = FootPulse::absent; break;
    default: c.back_pain = true; break;
  }
  return true;
}

}  // namespace

const std::vector<Change>& risks() {
  static const std::vector<Change> all{
      {"a dose more", dose},
      {"a dose more (again)", dose},
      {"a drug taken at home", home},
      {"pregnancy", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::pregnancy, p); }},
      {"dialysis", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::dialysis, p); }},
      {"liver disease", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::liver_disease, p); }},
      {"heparin-induced thrombocytopenia", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::heparin_induced_thrombocytopenia, p); }},
      {"agitation", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::agitation, p); }},
      {"cough", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::cough, p); }},
      {"steroids", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::steroids, p); }},
      {"arterial disease", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::arterial_disease, p, true); }},
      {"severe arterial disease", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::severe_arterial_disease, p, true); }},
      {"calcification", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::calcification, p, true); }},
      {"graft", [](Record& r, const Before&, Picks& p) { return risk(r, RiskKind::graft, p, true); }},
      {"two punctures", [](Record& r, const Before&, Picks& p) { auto& q = some_procedure(r, p); q.punctures = q.punctures.value_or(1) + 1; return true; }},
      {"difficult access", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).difficult = true; return true; }},
      {"high stick", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).high_stick = true; return true; }},
      {"low stick", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).low_stick = true; return true; }},
      {"a larger sheath", [](Record& r, const Before&, Picks& p) {
         auto& q = some_procedure(r, p);
         const int more = 1 + p.below(3);
         for (auto& f : q.french) f.value += whole(more);
         return !q.french.empty();
       }},
      {"an upsizing", [](Record& r, const Before&, Picks& p) {
         auto e = happened(r, sheath_upsized, at(12, 30), p);
         if (p.one_in(2)) e.french = whole(8);
         r.access_events.push_back(e);
         return std::ranges::all_of(r.procedures, [](const Procedure& q) { return q.french.size() == 1 && !q.french[0].source.low_confidence; });   // or it would tell a size
       }},
      {"an intervention", [](Record& r, const Before&, Picks& p) { some_procedure(r, p).intervention = Tristate::yes; return true; }},
      {"ten years older", [](Record& r, const Before&, Picks&) {
         if (!r.patient.birth || r.patient.birth->earliest > at(-24 * 366 * 18)) return false;
         r.patient.birth = exactly(r.patient.birth->earliest - std::chrono::days{3653});
         return true;
       }},
      {"ACT 400", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::act, 400); }},
      {"aPTT 150", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::aptt, 150); }},
      {"INR 5", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::inr, 5); }},
      {"platelets 5", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::platelets, 5); }},
      {"haemoglobin 4", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::haemoglobin, 4); }},
      {"fibrinogen 0.2", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::fibrinogen, 0.2); }},
      {"creatinine 14", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::creatinine, 14); }},
      {"systolic 230", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::systolic, 230); }},
      {"diastolic 140", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::diastolic, 140); }},
      {"systolic 55", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::systolic, 55); }, false},   // a low pressure is a known one
      {"heart rate 25", [](Record& r, const Before& b, Picks& p) { return bad(r, b, p, Analyte::heart_rate, 25); }},
      {"the ACT higher by 30", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::act, 30); }},
      {"the aPTT higher by 10", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::aptt, 10); }},
      {"the INR higher by 0.6", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::inr, 0.6); }},
      {"the platelets fewer by 90", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::platelets, -90); }},
      {"the haemoglobin lower by 2", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::haemoglobin, -2); }},
      {"the creatinine higher by 2", [](Record& r, const Before&, Picks&) { return worse(r, Analyte::creatinine, 2); }},
      {"bleeding again", bleeds_again},
      {"a check with every finding", finding},
      {"a check found worse", found_worse},
      {"closure failed", [](Record& r, const Before&, Picks& p) {
         const Instant pulled = [&] {
           for (const auto& e : r.access_events) if (e.kind == sheath_removed && e.at) return e.at->latest;
           return Instant{};
         }();
         auto e = happened(r, closure_failed, pulled, p);
         const bool device = std::ranges::any_of(r.procedures, [&](const Procedure& q) {
           return q.source.reference == e.procedure && q.closures.size() == 1 && (q.closures[0].value == Closure::device || q.closures[0].value == Closure::suture);
         });
         if (!device || pulled == Instant{}) return false;
         r.access_events.push_back(e);
         return true;
       }, false},   // another method has another hold
  };
  return all;
}

std::optional<GateState> worst_state(const std::vector<CasePlan>& plans, GateName name) {
  std::optional<GateState> worst;
  for (const auto& plan : plans)
    for (const auto& site : plan.sites)
      for (const auto& gate : site.gates)
        if (gate.name == name && (!worst || gate.state != GateState::open)) worst = gate.state;
  return worst;
}
bool every_sheath_out(const std::vector<CasePlan>& plans) {
  for (const auto& plan : plans)
    for (const auto& site : plan.sites)
      if (!site.gates.empty()) return false;
  return true;
}

}  // namespace campaign
