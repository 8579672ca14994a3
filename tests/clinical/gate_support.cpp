#include "gate_support.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace clinical {

Instant hm(int hour, int minute, int second) {
  using namespace std::chrono;
  return sys_days{year{2026} / March / 2} + hours{hour} + minutes{minute} + seconds{second};
}

Value amount(double number, const char* unit) { return compared(Comparator::none, number, unit); }
Value compared(Comparator comparator, double number, const char* unit) {
  const char* const marks[] = {"", "<", "<=", ">=", ">"};
  std::string written = fmt::format("{}{:g}{}{}", marks[static_cast<std::size_t>(comparator)], number, *unit ? " " : "", unit);
  return {std::llround(number * kMicro), comparator, std::move(written)};
}

Source Bedside::source() { return {fmt::format("Test/{}", ++count_), "1", false}; }

Administration& Bedside::bolus(Agent agent, Instant at, double units, DoseUnit unit) {
  Administration a;
  a.source = source();
  a.agent = agent;
  a.name = name_of(agent);
  a.status = AdministrationStatus::completed;
  a.bolus = true;
  a.start = a.end = exactly(at);
  if (units > 0) a.dose = Dose{amount(units), unit, false};
  return facts.administrations.emplace_back(a);
}
Administration& Bedside::infusion(Agent agent, Instant start, std::optional<Instant> end) {
  Administration& a = bolus(agent, start);
  a.bolus = false;
  a.end.reset();
  if (end) a.end = exactly(*end);
  a.status = end ? AdministrationStatus::completed : AdministrationStatus::in_progress;
  return a;
}
HomeDrug& Bedside::home(Agent agent, std::optional<Moment> last_dose) {
  HomeDrug drug;
  drug.source = source();
  drug.agent = agent;
  drug.name = name_of(agent);
  drug.last_dose = last_dose;
  return facts.home_drugs.emplace_back(drug);
}
HomeList& Bedside::nil_list(Instant at) { return facts.home_lists.emplace_back(HomeList{source(), true, exactly(at)}); }
Statement& Bedside::state(StatementKind kind, Instant at) { return facts.statements.emplace_back(Statement{source(), kind, exactly(at), {}}); }

Measurement& Bedside::lab(Analyte analyte, Value value, Instant at) {
  Measurement m;
  m.source = source();
  m.analyte = analyte;
  m.value = std::move(value);
  m.at = exactly(at);
  m.analyser = "analyser A";
  m.sampling_site = "arterial sheath";
  m.test_code = name_of(analyte);
  return facts.measurements.emplace_back(m);
}
Measurement& Bedside::lab(Analyte analyte, double value, Instant at) { return lab(analyte, amount(value), at); }
Measurement& Bedside::no_value(Analyte analyte, Instant at) {
  Measurement& m = lab(analyte, 0, at);
  m.value.reset();
  return m;
}
void Bedside::pressure(double systolic, double diastolic, Instant at) {
  lab(Analyte::systolic, systolic, at);
  lab(Analyte::diastolic, diastolic, at);
}
SiteCheck& Bedside::check(Instant at) {
  SiteCheck c;
  c.source = source();
  c.at = exactly(at);
  c.bleeding = Bleeding::none;
  c.swelling = amount(0, "cm");
  c.growth = false;
  c.foot_pulse = FootPulse::as_baseline;
  c.baseline_pulses = "2+ both feet";
  return site().checks.emplace_back(c);
}
Decision& Bedside::decide(GateName gate, std::string seen, Instant at) {
  return facts.decisions.emplace_back(Decision{source(), std::string(name_of(gate)), std::move(seen), "Dr Invented", exactly(at), false, {}});
}
Risk& Bedside::risk(RiskKind kind) {
  Risk r;
  r.source = source();
  r.kind = kind;
  return facts.risks.emplace_back(r);
}

std::vector<Gate> Bedside::gates(Instant now) const { return gates_at(facts, facts.sites.front(), cautious(), Clock(now)); }
std::optional<Gate> Bedside::gate(GateName name, Instant now) const {
  for (auto& gate : gates(now))
    if (gate.name == name) return gate;
  return std::nullopt;
}
std::optional<GateState> Bedside::state_of(GateName name, Instant now) const {
  const auto found = gate(name, now);
  return found ? std::optional(found->state) : std::nullopt;
}
Removal Bedside::removal(Instant now) const {
  const Clock clock(now);
  return removal_at(facts, facts.sites.front(), cautious(), clock, gates(now), project_act(facts, cautious(), clock));
}

Bedside bare() {
  Bedside bed;
  CaseFacts& f = bed.facts;
  f.index.source = {"Procedure/p1", "1", false};
  f.index.status = ProcedureStatus::completed;
  f.start = hm(12);
  f.procedure_end = hm(13);
  f.intervention = Tristate::yes;
  f.patient.source = {"Patient/invented", "1", false};
  f.patient.name = "Probe, Erfunden";
  f.patient.birth = exactly(std::chrono::sys_days{std::chrono::year{1960} / std::chrono::June / 15});
  f.patient.sex = Sex::male;
  f.patient.test_data = true;
  SiteFacts site;
  site.key = "Procedure/p1";
  site.side = {Certainty::known, Side::right, {}};
  site.vessel = {Certainty::known, Vessel::artery, {}};
  site.french = {Certainty::known, 6, {}};
  site.closure = {Certainty::known, Closure::manual, {}};
  site.sheath_known_in = true;
  f.sites.push_back(site);
  return bed;
}

Bedside ready() {
  Bedside bed = bare();
  bed.bolus(Agent::heparin, hm(12, 5), 6000);
  bed.nil_list(hm(9));
  bed.lab(Analyte::act, amount(140, "s"), hm(15));
  bed.check(hm(15));
  bed.pressure(130, 70, hm(15));
  bed.lab(Analyte::heart_rate, 70, hm(15));
  bed.lab(Analyte::platelets, 210, hm(8));
  bed.lab(Analyte::haemoglobin, 13.5, hm(8));
  bed.lab(Analyte::haemoglobin, 13.1, hm(14));
  bed.lab(Analyte::creatinine, 1.0, hm(8));
  bed.lab(Analyte::weight, 80, hm(8));
  bed.lab(Analyte::height, 180, hm(8));
  return bed;
}

std::string told(const std::vector<Gate>& gates) {
  std::string text;
  const auto seconds_of = [](const std::optional<Instant>& at) { return at ? (*at - hm(0)).count() : -1; };
  for (const auto& gate : gates)
    text += fmt::format("{} {} ({}) since {} opens {} expires {} clock {} {}\n", name_of(gate.name), name_of(gate.state), gate.why.code, seconds_of(gate.since),
                        seconds_of(gate.opens_at), seconds_of(gate.expires_at), seconds_of(gate.clock_ends), gate.value_seen);
  return text;
}

std::ostream& operator<<(std::ostream& out, const GateRow& row) { return out << row.name; }
std::ostream& operator<<(std::ostream& out, GateState state) { return out << name_of(state); }

void expect_row(Bedside bed, const GateRow& row) {
  SCOPED_TRACE(row.name);
  row.change(bed);
  const auto gate = bed.gate(row.gate, row.now);
  const std::string state = gate ? std::string(name_of(gate->state)) : "absent";
  EXPECT_EQ(state, row.state ? std::string(name_of(*row.state)) : "absent") << (gate ? gate->why.code : "");
  EXPECT_EQ(gate ? gate->opens_at : std::nullopt, row.opens_at);
}

}  // namespace clinical
