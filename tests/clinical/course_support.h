// A whole record built by hand: an invented patient with the HTEST label, 2 March 2026, times in UTC.
#pragma once

#include <functional>
#include <string>

#include "clinical/compute_plan.h"
#include "gate_support.h"

namespace clinical {

/// Adds facts to a Record, each with its own source.
struct Chart {
  Record record;

  Procedure& procedure(std::string id, int french, Closure = Closure::manual, Side = Side::right, Vessel = Vessel::artery);
  Procedure& index() { return record.procedures.front(); }
  AccessEvent& event(AccessEventKind, Instant at, std::string procedure = "Procedure/p1");
  Measurement& lab(Analyte, double value, Instant at);
  Administration& bolus(Agent, double units, Instant at);
  Statement& state(StatementKind, Instant at);
  SiteCheck& check(Instant at, std::string procedure = "Procedure/p1");   ///< complete, dry, soft, pulses as baseline
  Risk& risk(RiskKind);
  TaskFact& done(Step, Instant at);
  Decision& decide(Step, std::string seen, Instant at);
  void pressure(double systolic, Instant at);
  Source source();

  std::vector<CasePlan> plans(Instant now, const Protocol& = cautious()) const;
  CasePlan plan(Instant now, const Protocol& = cautious()) const;   ///< of the first case; a test failure and an empty plan when there is none

 private:
  int count_ = 0;
};

/// A diagnostic case, 12:00 to 13:00, right femoral artery by hand: no anticoagulant, nothing taken at home, every value good, nothing lengthens.
Chart plain_chart(int french, Closure = Closure::manual, Vessel = Vessel::artery);
/// The same with an intervention and heparin at 12:05.
Chart intervention_chart(int french, Closure = Closure::manual);
/// Sheath out at 15:00 with every gate open then: fresh values, check and pressure at 14:55.
void pull_at(Chart&, Instant, std::string procedure = "Procedure/p1");

const Milestone& step(const SitePlan&, Step, int nth = 0);
const Milestone& step(const CasePlan&, Step, int nth = 0);   ///< of the first site
std::optional<Instant> at(const CasePlan&, Step);            ///< actual, else earliest
/// What of a plan is written: everything that does not move with each second, as one text.
std::string written_view(const std::vector<CasePlan>&);
std::string written_view(const CasePlan&);

std::ostream& operator<<(std::ostream&, StepStatus);
std::ostream& operator<<(std::ostream&, CaseState);

}  // namespace clinical

// Instants and lengths in test messages.
namespace std::chrono {
void PrintTo(const sys_seconds&, std::ostream*);
void PrintTo(const minutes&, std::ostream*);
}  // namespace std::chrono
