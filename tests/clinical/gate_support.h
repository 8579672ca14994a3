// A case at the bedside, built by hand: an invented patient, 2 March 2026, times in UTC.
#pragma once

#include <gtest/gtest.h>

#include <functional>
#include <ostream>

#include "clinical/gates.h"
#include "clinical/names.h"
#include "protocol_support.h"

namespace clinical {

/// 2026-03-02 at this time; hours may be negative or over 24.
Instant hm(int hour, int minute = 0, int second = 0);

Value amount(double number, const char* unit = "");
Value compared(Comparator, double number, const char* unit = "");

/// Builds a CaseFacts with one site. Each call adds one fact with its own source.
struct Bedside {
  CaseFacts facts;

  SiteFacts& site() { return facts.sites.front(); }
  Administration& bolus(Agent, Instant at, double units = 0, DoseUnit = DoseUnit::international_unit);
  Administration& infusion(Agent, Instant start, std::optional<Instant> end);
  HomeDrug& home(Agent, std::optional<Moment> last_dose);
  HomeList& nil_list(Instant at);
  Statement& state(StatementKind, Instant at);
  Measurement& lab(Analyte, double value, Instant at);
  Measurement& lab(Analyte, Value value, Instant at);
  Measurement& no_value(Analyte, Instant at);
  void pressure(double systolic, double diastolic, Instant at);
  SiteCheck& check(Instant at);   ///< complete, dry, soft, pulses as baseline
  Decision& decide(GateName, std::string seen, Instant at);
  Risk& risk(RiskKind);
  Source source();

  std::vector<Gate> gates(Instant now) const;
  std::optional<Gate> gate(GateName, Instant now) const;
  std::optional<GateState> state_of(GateName, Instant now) const;
  Removal removal(Instant now) const;

 private:
  int count_ = 0;
};

/// 6 F, right femoral artery, manual, intervention from 12:00, nothing else recorded.
Bedside bare();
/// The same with every gate open from 15:00 on: heparin at 12:05, ACT 140 s and everything else measured at 15:00.
Bedside ready();

/// All open gates of a moment, and the others, for messages.
std::string told(const std::vector<Gate>&);

/// One row of a table of gates: a change to ready() (or bare()), and what one gate says at an instant.
struct GateRow {
  const char* name;
  std::function<void(Bedside&)> change;
  GateName gate;
  Instant now;
  std::optional<GateState> state;   ///< none: the gate does not apply
  std::optional<Instant> opens_at = {};
};
std::ostream& operator<<(std::ostream&, const GateRow&);
void expect_row(Bedside, const GateRow&);

std::ostream& operator<<(std::ostream&, GateState);

}  // namespace clinical
