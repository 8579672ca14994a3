// Turns deeds into facts. 2 March 2026, UTC; the procedure begins at noon.
#pragma once

#include <string>

#include "clinical/plan.h"
#include "story.h"

namespace campaign {

using clinical::Instant;

Instant at(int hour, int minute = 0, int second = 0);
clinical::Value amount(double number, const char* unit);

class Teller {
 public:
  explicit Teller(const clinical::Protocol& protocol) : protocol_(protocol) {}

  void patient(Picks);
  void index(Picks);
  /// A pull, a hold, a haemostasis, a rebleed: as far as the picks go.
  void course(Picks, const std::string& procedure);
  /// In place of the three above: one whom the trials of early walking would have taken, up to checks after T0.
  void trial_patient(Picks);
  void further(Picks);          ///< any one deed
  Instant now(Picks) const;

  clinical::Record record;

 private:
  clinical::Source source(const char* kind);
  Instant some_time(Picks&) const;
  std::string some_procedure(Picks&) const;

  clinical::Procedure& procedure(Picks&, std::string id);
  void contradict(Picks&, clinical::Procedure&);
  void good_values_before();
  clinical::Measurement& measure(clinical::Analyte, double value, Instant);
  clinical::SiteCheck& check(Instant, const std::string& procedure);
  clinical::AccessEvent& event(clinical::AccessEventKind, Instant, const std::string& procedure);
  void round(Picks&, Instant, const std::string& procedure);
  void watch_over(Instant t0, const std::string& procedure);

  void dose(Picks&);
  clinical::Administration& dose(clinical::Agent, Instant);
  void infusion_with_changes(Picks&);
  void clock_that_ends_soon(Picks&, const std::string& procedure);
  void lysis(Picks&);
  void measurement(Picks&);
  void site_check(Picks&);
  void access_event(Picks&);
  void home(Picks&);
  void statement(Picks&);
  void risk(Picks&);
  void decision(Picks&);
  void answer(Picks&);
  void task(Picks&);
  clinical::TaskFact& done(clinical::Step, Instant, const std::string& procedure);
  void site(Picks&);

  const clinical::Protocol& protocol_;
  int count_ = 0;
};

}  // namespace campaign
