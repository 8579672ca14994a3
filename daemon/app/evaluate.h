// Facts of one patient -> plans -> what has to be written. Computes and renders; writes nothing to the store.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "app/log.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/take_event.h"
#include "clinical/change.h"
#include "clinical/compute_plan.h"
#include "fhir/issue.h"

namespace app {

/// What is to be committed for one case, in one store transaction together with the events that caused it.
struct CaseWork {
  store::Case row;
  std::vector<store::Item> items;        ///< as they stand once the writes below are in place (files: at once; a record: when it has answered)
  std::vector<store::NewWrite> writes;
  std::vector<std::pair<std::string, std::string>> blobs;  ///< sha256, content
  bool supersede = false;                ///< unsent writes of this case give way to these
  std::vector<std::string> news;         ///< one line each: what moved and because of which fact
};

struct Evaluation {
  std::vector<CaseWork> cases;
  fhir::Issues issues;
  std::vector<std::string> alarms;
};

class Evaluator {
 public:
  Evaluator(store::Store& store, const Rules& rules, Log& log) : store_(store), rules_(rules), log_(log) {}

  /// The patient's plans as they stood before facts are put in place, so that what moves can be told. Call before put_current.
  store::Result<void> remember(const PatientKey&);
  /// A fact that the next evaluation of this patient is about, for its news.
  void note_arrival(const PatientKey&, const store::CurrentFact&);
  /// Computes everything anew at `now`.
  store::Result<Evaluation> evaluate(const PatientKey&, Millis now);
  /// The plan of one case with its basis, in plain words.
  store::Result<std::string> explain(const PatientKey&, const std::string& procedure, Millis now);

 private:
  struct Computed {
    clinical::Record record;
    std::vector<clinical::CasePlan> plans;
    fhir::Issues issues;
  };
  store::Result<Computed> compute(const PatientKey&, Millis now);
  store::Result<void> add_case(const PatientKey&, const std::vector<clinical::CasePlan>& plans, std::size_t index, Millis now, Evaluation&);
  store::Result<void> add_vanished(const PatientKey&, const Computed&, Millis now, Evaluation&);

  store::Store& store_;
  const Rules& rules_;
  Log& log_;
  std::map<PatientKey, std::vector<clinical::CasePlan>> before_;  ///< between remember() and evaluate(), as the next
  std::map<PatientKey, std::vector<clinical::Source>> arrived_;
};

/// "source|Procedure/p1": the key of a case in the store.
std::string case_key(const PatientKey&, const clinical::CasePlan&);

}  // namespace app
