#include "teller.h"

#include <fmt/format.h>

#include <cmath>

namespace campaign {

using namespace clinical;
using enum AccessEventKind;

Instant at(int hour, int minute, int second) {
  using namespace std::chrono;
  return sys_days{year{2026} / March / 2} + hours{hour} + minutes{minute} + seconds{second};
}
Value amount(double number, const char* unit) {
  return {std::llround(number * kMicro), Comparator::none, fmt::format("{:g}{}{}", number, *unit ? " " : "", unit)};
}

namespace {

Moment day_of(Instant at) {
  const auto day = std::chrono::floor<std::chrono::days>(at);
  return {day, day + hours{24} - seconds{1}};
}
Moment born(int year_) { return exactly(std::chrono::sys_days{std::chrono::year{year_} / 5 / 1}); }

}  // namespace

Source Teller::source(const char* kind) { return {fmt::format("{}/{}", kind, ++count_), "1", false}; }

// Often close to something already recorded, because the rules turn at such instants.
Instant Teller::some_time(Picks& pick) const {
  static constexpr int kSteps[] = {0, 60, 120, 300, 600, 900, 901, 1800, 1801, 3600, 3601, 7200, 14400, 21600, 21601, 28800, 36000};
  const int way = pick.below(8);
  if (way >= 4 && !record.access_events.empty()) {
    const auto& events = record.access_events;
    const auto& near = events[static_cast<std::size_t>(pick.below(static_cast<int>(events.size())))];
    if (near.at) return near.at->latest + seconds{pick.of(kSteps)} * (way == 7 ? -1 : 1);
  }
  if (way == 3) return at(12 + pick.below(7));                  // so that facts meet at one instant
  if (way == 2) return at(0, pick.below(48 * 60), pick.below(60));
  return at(10, 5 * pick.below(108));
}
std::string Teller::some_procedure(Picks& pick) const {
  const auto& all = record.procedures;
  return all[static_cast<std::size_t>(pick.below(static_cast<int>(all.size())))].source.reference;
}

void Teller::patient(Picks pick) {
  auto& p = record.patient;
  p.source = {"Patient/invented", "1", false};
  p.name = "Erfunden, Example-Testcase";
  p.test_data = true;
  static constexpr Sex kSexes[] = {Sex::male, Sex::female, Sex::male, Sex::female, Sex::male, Sex::unknown};
  p.sex = pick.of(kSexes);
  static constexpr int kYears[] = {1966, 1958, 1970, 1980, 1951, 1950, 1940, 1932, 1999, 1966, 1955, 1962, 1971, 1968, 1975, 1960, 2009};
  p.birth = born(pick.of(kYears));
  if (pick.one_in(40)) p.birth.reset();
  good_values_before();
  const int lost = pick.below(24);
  if (lost >= 12 && lost < 20)
    std::erase_if(record.measurements, [&](const Measurement& m) { return static_cast<int>(m.analyte) % 8 == lost - 12; });
  const int home = pick.below(8);
  if (home < 6) record.home_lists.push_back({source("List"), true, exactly(at(9))});
  else if (home == 6) record.statements.push_back({source("Statement"), StatementKind::no_home_anticoagulant, exactly(at(13, 5)), {}});
  const int stay = pick.below(12);
  if (stay >= 8) {
    Encounter e;
    e.source = source("Encounter");
    e.start = exactly(at(8));
    e.in_progress = stay < 10;
    if (!e.in_progress) e.end = exactly(at(16 + pick.below(20)));
    record.encounters.push_back(e);
  }
}

void Teller::good_values_before() {
  for (const auto& [analyte, value] : {std::pair(Analyte::platelets, 220.0), {Analyte::inr, 1.0}, {Analyte::haemoglobin, 13.5}, {Analyte::creatinine, 0.9},
                                       {Analyte::weight, 80.0}, {Analyte::height, 178.0}})
    measure(analyte, value, at(8));
  measure(Analyte::haemoglobin, 13.2, at(14));
}

Procedure& Teller::procedure(Picks& pick, std::string id) {
  static constexpr Closure kClosures[] = {Closure::manual, Closure::manual, Closure::manual, Closure::mechanical, Closure::mechanical, Closure::device, Closure::suture};
  static constexpr double kSizes[] = {6, 6, 5, 4, 7, 8, 9, 10, 6, 6.5, 5, 4, 7, 8, 11, 14};
  Procedure p;
  p.source = {"Procedure/" + id, "1", false};
  p.status = ProcedureStatus::completed;
  p.title = "Catheter procedure (invented)";
  p.start = exactly(at(12));
  p.end = exactly(at(13));
  p.catheter = p.femoral = true;
  p.sides.push_back({pick.one_in(4) ? Side::left : Side::right, p.source});
  p.vessels.push_back({pick.one_in(6) ? Vessel::vein : Vessel::artery, p.source});
  p.french.push_back({std::llround(pick.of(kSizes) * kMicro), p.source});
  p.closures.push_back({pick.of(kClosures), p.source});
  p.punctures = 1;
  p.uncomplicated = true;
  contradict(pick, p);
  return record.procedures.emplace_back(std::move(p));
}

/// One of many ways in which the description of a site is poor; mostly none.
void Teller::contradict(Picks& pick, Procedure& p) {
  const Source other{p.source.reference + "/device", "1", false};
  switch (pick.below(90)) {
    case 20: p.sides.push_back({p.sides.front().value == Side::left ? Side::right : Side::left, other}); break;
    case 21: p.sides.clear(); break;
    case 22: p.vessels.clear(); break;
    case 23: p.vessels.push_back({p.vessels.front().value == Vessel::vein ? Vessel::artery : Vessel::vein, other}); break;
    case 24: p.french.clear(); break;
    case 25: p.french.push_back({p.french.front().value + whole(1), other}); break;
    case 26: p.french.front().source.low_confidence = true; break;
    case 27: p.closures.clear(); break;
    case 28: p.closures.push_back({Closure::mechanical, other}); break;
    case 29: p.punctures.reset(); break;
    case 30: p.punctures = 2; break;
    case 31: p.difficult = true; break;
    case 32: p.high_stick = true; break;
    case 33: p.low_stick = true; break;
    case 34: p.direction = Direction::antegrade; break;
    case 35: p.start.reset(); break;
    case 36: p.end.reset(); break;
    case 37: p.start = day_of(at(12)); break;
    case 38: p.status = ProcedureStatus::in_progress; p.end.reset(); break;
    case 39: p.start = exactly(at(13, 30)); break;   // ends before it begins
    case 40: case 41: case 42: p.uncomplicated = false; break;
    default: break;
  }
}

void Teller::index(Picks pick) {
  static constexpr Tristate kInterventions[] = {Tristate::no, Tristate::yes, Tristate::yes, Tristate::no, Tristate::yes, Tristate::no, Tristate::unknown};
  const Tristate intervention = pick.of(kInterventions);
  const int drugs = pick.below(8);
  procedure(pick, "p1").intervention = intervention;
  if (drugs < 3) record.statements.push_back({source("Statement"), StatementKind::no_anticoagulant_given, exactly(at(13, 5)), {}});
  else if (drugs < 7) dose(Agent::heparin, at(12, 5)).dose = Dose{amount(1000 * (3 + drugs), "U"), DoseUnit::international_unit, false};
}

void Teller::round(Picks& pick, Instant when, const std::string& procedure) {
  static constexpr double kSystolic[] = {128, 118, 135, 148, 150, 155, 162, 88};
  measure(Analyte::systolic, pick.one_in(3) ? pick.of(kSystolic) : 126, when);
  measure(Analyte::diastolic, 74, when);
  measure(Analyte::heart_rate, 72, when);
  check(when, procedure);
  if (!record.administrations.empty()) measure(Analyte::act, pick.one_in(6) ? 165 : 138, when);
}

// Complete dry checks and pressures where the closer watch wants them for ten hours.
void Teller::watch_over(Instant t0, const std::string& procedure) {
  for (int i = 1; i <= 18; ++i) {
    const minutes after = i <= 8 ? minutes{15 * i} : i <= 12 ? minutes{120 + 30 * (i - 8)} : minutes{240 + 60 * (i - 12)};
    check(t0 + after, procedure);
    measure(Analyte::systolic, 122, t0 + after);
  }
}

void Teller::course(Picks pick, const std::string& procedure) {
  const int stage = pick.below(12);
  if (stage < 3) {
    if (stage == 2) event(sheath_inserted, at(12, 2), procedure);
    const int values = pick.below(4);
    if (values == 0) clock_that_ends_soon(pick, procedure);
    else if (values < 3) round(pick, at(13, 30 + 10 * pick.below(20)), procedure);
    return;
  }
  const Instant out = at(14 + pick.below(5), 10 * pick.below(6));
  if (!pick.one_in(6)) round(pick, out - minutes{5}, procedure);
  event(sheath_removed, out, procedure);
  static constexpr Closure kMethods[] = {Closure::unknown, Closure::unknown, Closure::manual, Closure::mechanical};
  const Instant pressed = out + minutes{pick.one_in(4) ? 3 : 0};
  if (!pick.one_in(5)) event(compression_started, pressed, procedure).method = pick.of(kMethods);
  if (stage == 3) return;
  const Instant dry = pressed + minutes{5 * pick.below(40)};
  if (!pick.one_in(3) || stage == 4) event(compression_ended, dry, procedure);
  if (stage == 4) return;
  event(haemostasis_confirmed, dry, procedure);
  if (stage >= 6 && stage <= 8) watch_over(dry, procedure);
  if (stage == 8) done(Step::stand_and_walk, dry + hours{6 + pick.below(4)}, procedure);
  if (stage >= 9) {
    const Instant bled = dry + minutes{20 * (1 + pick.below(20))};
    event(stage == 11 ? rebleed : compression_started, bled, procedure);
    if (stage >= 10) event(haemostasis_confirmed, bled + minutes{25}, procedure);
    if (stage == 10 && pick.one_in(2)) watch_over(bled + minutes{25}, procedure);
  }
}

void Teller::trial_patient(Picks pick) {
  const Deed plain{};
  Picks nothing_odd(plain);
  patient(nothing_odd);
  static constexpr int kSizes[] = {6, 5, 4, 7, 6, 5, 4, 7, 8};
  auto& p = procedure(nothing_odd, "p1");
  p.french.front().value = whole(pick.of(kSizes));
  p.intervention = Tristate::no;
  record.statements.push_back({source("Statement"), StatementKind::no_anticoagulant_given, exactly(at(13, 5)), {}});
  const Instant out = at(13 + pick.below(3), 10 * (1 + pick.below(5)));
  round(nothing_odd, out - minutes{5}, "Procedure/p1");
  event(sheath_removed, out, "Procedure/p1");
  event(compression_started, out, "Procedure/p1");
  const Instant dry = out + minutes{30 + 5 * pick.below(4)};
  event(haemostasis_confirmed, dry, "Procedure/p1");
  watch_over(dry, "Procedure/p1");
}

Instant Teller::now(Picks pick) const {
  pick.below(5);   // whether the record holds what is still to come: see tell()
  const int way = pick.below(4);
  if (way == 3) return at(12, 5 * pick.below(12 * 14), pick.below(60));
  static constexpr int kAfter[] = {0, 60, 300, 600, 899, 900, 901};
  if (way != 0 && !record.checks.empty()) {
    const int last = static_cast<int>(record.checks.size()) - 1;
    const auto& seen = record.checks[static_cast<std::size_t>(last - (way == 1 ? pick.below(std::min(last + 1, 5)) : pick.below(last + 1)))];
    if (seen.at && seen.at->exact() && seen.at->latest > at(12)) return seen.at->latest + seconds{pick.of(kAfter)};
  }
  auto when = some_time(pick);
  if (when < at(11)) when = at(15) + (when - at(0)) / 4;
  return when;
}

}  // namespace campaign
