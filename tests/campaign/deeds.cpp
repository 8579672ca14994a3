// The further deeds of a story: doses, values, checks, events, and what people say, decide and do.
#include "clinical/compute_plan.h"
#include "clinical/names.h"
#include "teller.h"

namespace campaign {

using namespace clinical;
using enum AccessEventKind;

namespace {

const char* unit_of(Analyte analyte) {
  switch (analyte) {
    case Analyte::act: case Analyte::aptt: return "s";
    case Analyte::anti_xa: return "[iU]/mL";
    case Analyte::inr: return "{INR}";
    case Analyte::platelets: return "10*9/L";
    case Analyte::haemoglobin: return "g/dL";
    case Analyte::fibrinogen: return "g/L";
    case Analyte::creatinine: case Analyte::bilirubin: return "mg/dL";
    case Analyte::weight: return "kg";
    case Analyte::height: return "cm";
    case Analyte::heart_rate: return "/min";
    case Analyte::systolic: case Analyte::diastolic: case Analyte::mean_pressure: return "mm[Hg]";
    default: return "U/L";
  }
}

constexpr Analyte kAnalytes[] = {Analyte::act, Analyte::act, Analyte::act, Analyte::aptt, Analyte::systolic, Analyte::systolic, Analyte::systolic,
                                 Analyte::platelets, Analyte::inr, Analyte::haemoglobin, Analyte::haemoglobin, Analyte::fibrinogen, Analyte::creatinine,
                                 Analyte::heart_rate, Analyte::diastolic, Analyte::anti_xa, Analyte::weight, Analyte::height,
                                 Analyte::alanine_aminotransferase, Analyte::bilirubin};

/// Good ones first; on both sides of each limit.
double value_for(Picks& pick, Analyte analyte) {
  const auto of = [&](std::initializer_list<double> list) { return list.begin()[pick.below(static_cast<int>(list.size()))]; };
  switch (analyte) {
    case Analyte::act: return of({138, 149, 150, 151, 130, 165, 180, 210, 250, 290, 330, 349, 350, 351, 400, 95});
    case Analyte::aptt: return of({35, 44, 45, 46, 60, 90, 150});
    case Analyte::anti_xa: return of({0.05, 0.2, 0.5, 1.1});
    case Analyte::inr: return of({1.0, 1.2, 1.5, 1.6, 1.8, 1.9, 2.6});
    case Analyte::platelets: return of({210, 150, 101, 100, 99, 70, 50, 49, 20});
    case Analyte::haemoglobin: return of({13.4, 12.9, 11.5, 11.4, 10.4, 9.1, 8.0, 7.9, 6.5});
    case Analyte::fibrinogen: return of({2.8, 1.5, 1.4, 0.8});
    case Analyte::creatinine: return of({0.9, 1.1, 1.3, 1.5, 2.1, 3.2, 4.5, 8.0});
    case Analyte::weight: return of({80, 60, 48, 105, 130});
    case Analyte::height: return of({178, 165, 150, 192});
    case Analyte::heart_rate: return of({72, 50, 49, 40, 39, 120, 121, 130});
    case Analyte::systolic: return of({126, 110, 140, 149, 150, 155, 159, 160, 185, 95, 90, 89, 70});
    case Analyte::diastolic: return of({74, 60, 99, 100, 115});
    case Analyte::bilirubin: return of({0.8, 3.5});
    default: return of({25, 180});
  }
}

constexpr Agent kAgents[] = {Agent::heparin, Agent::heparin, Agent::heparin, Agent::heparin, Agent::heparin, Agent::bivalirudin, Agent::enoxaparin, Agent::eptifibatide,
                             Agent::aspirin, Agent::protamine, Agent::argatroban, Agent::fondaparinux, Agent::apixaban, Agent::warfarin, Agent::alteplase,
                             Agent::tirofiban, Agent::dalteparin, Agent::tinzaparin, Agent::abciximab, Agent::cangrelor, Agent::clopidogrel, Agent::prasugrel,
                             Agent::ticagrelor, Agent::rivaroxaban, Agent::edoxaban, Agent::dabigatran, Agent::tenecteplase, Agent::reteplase,
                             Agent::idarucizumab, Agent::andexanet_alfa, Agent::vitamin_k, Agent::prothrombin_complex, Agent::other, Agent::unidentified,
                             Agent::other_antithrombotic};

}  // namespace

Administration& Teller::dose(Agent agent, Instant when) {
  Administration a;
  a.source = source("Administration");
  a.agent = agent;
  a.name = name_of(agent);
  a.status = AdministrationStatus::completed;
  a.route = Route::intravenous;
  a.bolus = true;
  a.start = a.end = exactly(when);
  return record.administrations.emplace_back(std::move(a));
}

void Teller::dose(Picks& pick) {
  const Agent agent = pick.of(kAgents);
  const int shape = pick.below(20);
  const Instant when = shape == 19 ? at(-1 - pick.below(160)) : some_time(pick);
  auto& a = dose(agent, when);
  a.dose = Dose{amount(1000.0 * (1 + pick.below(10)), "U"), DoseUnit::international_unit, false};
  static constexpr Route kRoutes[] = {Route::intravenous, Route::subcutaneous, Route::unknown, Route::oral};
  a.route = pick.of(kRoutes);
  if (shape >= 6 && shape < 10) {
    a.bolus = false;
    a.end = exactly(when + minutes{10 * (1 + pick.below(30))});
    a.rate = Rate{amount(1000, "U/h"), DoseUnit::international_unit, false};
  }
  switch (shape) {
    case 10: a.bolus = false, a.end.reset(), a.status = AdministrationStatus::in_progress; break;
    case 11: a.bolus = false, a.end.reset(), a.status = AdministrationStatus::on_hold; break;
    case 12: a.bolus = false, a.end.reset(); break;                                        // completed, stop not recorded
    case 13: a.status = AdministrationStatus::unknown; break;
    case 14: a.flush = true; break;
    case 15: a.dose.reset(); break;
    case 16: a.start = a.end = Moment{at(0), at(23, 59, 59)}; break;
    case 17: a.start.reset(), a.end.reset(); break;
    case 18: a.dose = Dose{amount(10.0 * (1 + pick.below(15)), "U/kg"), DoseUnit::international_unit, true}; break;
    default: break;
  }
}

// A pump: two or three rates, perhaps a pause, perhaps still running.
void Teller::infusion_with_changes(Picks& pick) {
  const Agent agent = pick.of(kAgents);
  Instant when = some_time(pick);
  const int parts = 2 + pick.below(2);
  for (int i = 0; i < parts; ++i) {
    auto& a = dose(agent, when);
    when += minutes{10 * (1 + pick.below(12))};
    a.bolus = false;
    a.end = exactly(when);
    a.rate = Rate{amount(500.0 * (1 + pick.below(4)), "U/h"), DoseUnit::international_unit, false};
    if (pick.one_in(3)) when += minutes{30};
    if (i + 1 == parts && pick.one_in(3)) a.end.reset(), a.status = AdministrationStatus::in_progress;
  }
}

// Good values, and a drug whose clock runs out ten minutes later: the pull is then timed by a clock alone.
void Teller::clock_that_ends_soon(Picks& pick, const std::string& procedure) {
  static constexpr std::pair<Agent, int> kClocks[] = {{Agent::enoxaparin, 8 * 60}, {Agent::bivalirudin, 120}, {Agent::argatroban, 120}, {Agent::tinzaparin, 8 * 60}};
  const Instant when = at(15 + pick.below(3), 10 * pick.below(6));
  const auto& [agent, length] = pick.of(kClocks);
  dose(agent, when + minutes{10} - minutes{length}).route = Route::subcutaneous;
  measure(Analyte::act, 138, when);
  round(pick, when, procedure);
}

void Teller::lysis(Picks& pick) {
  static constexpr Agent kLytics[] = {Agent::alteplase, Agent::reteplase, Agent::tenecteplase};
  const Instant when = at(10 + pick.below(4));
  dose(pick.of(kLytics), when);
  measure(Analyte::fibrinogen, pick.one_in(3) ? 1.2 : 2.4, when + hours{1 + pick.below(4)});
}

Measurement& Teller::measure(Analyte analyte, double value, Instant when) {
  Measurement m;
  m.source = source("Observation");
  m.analyte = analyte;
  m.value = amount(value, unit_of(analyte));
  m.at = exactly(when);
  m.analyser = "analyser A";
  m.sampling_site = "arterial sheath";
  m.test_code = name_of(analyte);
  return record.measurements.emplace_back(std::move(m));
}

void Teller::measurement(Picks& pick) {
  const Analyte analyte = pick.of(kAnalytes);
  const double value = value_for(pick, analyte);
  const int flaw = pick.below(30);
  const Instant when = some_time(pick);
  auto& m = measure(analyte, value, when);
  const auto compare = [&](Comparator c, const char* mark) { m.value->comparator = c, m.value->written = mark + m.value->written; };
  switch (flaw) {
    case 18: m.value.reset(); break;                      // unit missing, or absent with a reason
    case 19: compare(Comparator::less, "<"); break;
    case 20: compare(Comparator::greater, ">"); break;
    case 21: compare(Comparator::at_most, "<="); break;
    case 22: compare(Comparator::at_least, ">="); break;
    case 23: m.preliminary = true; break;
    case 24: m.analyser.clear(); break;
    case 25: m.analyser = "analyser B"; break;
    case 26: m.sampling_site = "vein"; break;
    case 27: m.test_code = "other test"; break;
    case 28: m.at = Moment{at(0), at(23, 59, 59)}; break;
    case 29: m.at.reset(); break;
    default: break;
  }
}

SiteCheck& Teller::check(Instant when, const std::string& procedure) {
  SiteCheck c;
  c.source = source("Check");
  c.at = exactly(when);
  c.procedure = procedure;
  c.bleeding = Bleeding::none;
  c.swelling = amount(0, "cm");
  c.growth = false;
  c.foot_pulse = FootPulse::as_baseline;
  c.baseline_pulses = "2+ on a scale of 0-3";
  return record.checks.emplace_back(std::move(c));
}

void Teller::site_check(Picks& pick) {
  const Instant when = some_time(pick);
  auto& c = check(when, some_procedure(pick));
  const int finding = pick.below(24);
  switch (finding) {
    case 8: c.bleeding = Bleeding::ooze; break;
    case 9: c.bleeding = Bleeding::bleeding; break;
    case 10: case 11: c.swelling = amount(1 + pick.below(4), "cm"); break;
    case 12: c.swelling = amount(5 + pick.below(7), "cm"); break;
    case 13: c.growth = true; c.swelling = amount(2, "cm"); break;
    case 14: c.foot_pulse = FootPulse::weaker; break;
    case 15: c.foot_pulse = FootPulse::absent; break;
    case 16: c.back_pain = true; break;
    case 17: c.bleeding.reset(); break;
    case 18: c.swelling.reset(); break;
    case 19: c.foot_pulse.reset(); break;
    case 20: c.baseline_pulses.clear(); break;
    case 21: c.procedure.clear(); break;
    case 22: c.procedure.clear(); c.side = pick.one_in(2) ? Side::left : Side::right; break;
    case 23: c.at = Moment{at(0), at(23, 59, 59)}; break;
    default: break;
  }
}

AccessEvent& Teller::event(AccessEventKind kind, Instant when, const std::string& procedure) {
  AccessEvent e;
  e.source = source("Event");
  e.kind = kind;
  e.at = exactly(when);
  e.procedure = procedure;
  return record.access_events.emplace_back(std::move(e));
}

void Teller::access_event(Picks& pick) {
  static constexpr AccessEventKind kKinds[] = {sheath_removed, compression_started, haemostasis_confirmed, compression_ended, pressure_changed, sheath_upsized,
                                               closure_failed, rebleed, sheath_inserted};
  const auto kind = pick.of(kKinds);
  Instant when = some_time(pick);
  if (when < at(13) && !pick.one_in(8)) when = at(13) + (at(13) - when) / 2;   // few happen before the procedure
  auto& e = event(kind, when, some_procedure(pick));
  static constexpr Closure kMethods[] = {Closure::unknown, Closure::manual, Closure::mechanical};
  if (kind == compression_started) e.method = pick.of(kMethods);
  if (kind == sheath_upsized && !pick.one_in(5)) e.french = whole(6 + pick.below(6));
  if (kind == pressure_changed) e.pressure = amount(20.0 * pick.below(6), "mm[Hg]");
  switch (pick.below(40)) {
    case 16: e.procedure.clear(); break;
    case 17: e.procedure.clear(); e.side = Side::left; break;
    case 18: e.procedure.clear(); e.vessel = Vessel::vein; break;
    case 19: e.at.reset(); break;
    case 20: e.at = Moment{at(0), at(23, 59, 59)}; break;
    case 21: e.from_task = e.recording_time_only = true; break;
    case 22: e.time_conflict = true; break;
    case 23: e.procedure = "Procedure/nobody-knows"; break;
    default: break;
  }
}

}  // namespace campaign
