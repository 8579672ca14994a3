// Facts of one patient -> plans -> what has to be written. Computes and renders; writes nothing to the store.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "app/log.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/take_event.h"
#include "clinical/change.h"
#include "clinical/compute_plan.h"
#include "fhir/issue.h"
#include "fhir/labels.h"
#include "fhir_read/resource_set.h"

namespace app {

/// What is to be committed for one case, in one store transaction together with the events that caused it.
struct CaseWork {
  store::Case row;
  std::vector<store::Item> items;        ///< as they stand once the writes below are in place (files: at once; a record: when it has answered)
  std::vector<store::NewWrite> writes;
  std::vector<std::pair<std::string, std::string>> blobs;  ///< sha256, content
  std::vector<store::Item> here;         ///< clashes of orders that the record takes none of, to be served here from this commit on
  bool supersede = false;                ///< unsent writes of this case give way to these
  std::string who;                       ///< the patient's name, for the news
  bool fresh = false;                    ///< the first time that this case is met
  std::optional<store::NewPrint> print;  ///< the sheet to be printed; its document is among the blobs
  std::optional<store::PrintId> by_hand; ///< a person has completed the Task that asks for this one
  bool remove_served = false;            ///< the case ended long ago: what is served here of it goes
  bool search = false;                   ///< nothing can be written before the record has been asked what of ours stands there
  std::int64_t new_tasks = 0;            ///< that this change gives
  std::int64_t held_tasks = 0;           ///< routine Tasks that wait, since the patient was given as many as an hour may have
  std::vector<std::string> news;         ///< one line each: what moved and because of which fact
};

struct Evaluation {
  std::vector<CaseWork> cases;
  fhir::Issues issues;
  std::vector<std::string> wanted;       ///< "Type/id" that the facts of a case refer to and that is not held
  std::vector<std::pair<std::string, std::string>> alarms;  ///< key of the case, what an operator must look at
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
  /// From now on clashes of orders are served here: the record has refused one.
  void keep_clashes_here() { clashes_here_ = true; }
  /// The plan of one case with its basis, in plain words.
  store::Result<std::string> explain(const PatientKey&, const std::string& procedure, Millis now);

 private:
  struct Computed {
    clinical::Record record;
    std::vector<clinical::CasePlan> plans;
    fhir::Issues issues;
    std::vector<std::string> wanted;
    std::string confidentiality;   ///< highest label of all these facts
    std::vector<fhir::Label> sensitivity;  ///< every other label of them that is carried forward
    std::set<std::string> merged;  ///< patients merged into this one
    std::map<std::string, std::vector<std::string>> places;  ///< "Encounter/e" -> where the patient lies: a Location, then what it is part of
  };
  store::Result<Computed> compute(const PatientKey&, Millis now);
  store::Result<std::set<std::string>> merged_into(const PatientKey&);
  store::Result<std::string> survivor_of(const PatientKey&);
  store::Result<std::string> key_for(const PatientKey&, const Computed&, const clinical::CasePlan&, Evaluation&);
  store::Result<void> add_case(const PatientKey&, const std::string& key, const Computed&, const std::vector<clinical::CasePlan>& plans, std::size_t index, Millis now, Evaluation&);
  store::Result<void> add_vanished(const PatientKey&, const Computed&, const std::set<std::string>& standing, Millis now, Evaluation&);
  store::Result<void> add_wholes(const PatientKey&, fhir_read::ResourceSet&, std::vector<std::string>& wanted);
  store::Result<std::vector<std::string>> places_of(const PatientKey&, std::string place);
  std::string base_url(const PatientKey&) const;
  bool is_taken(const std::string& identity, const std::string& key, const Evaluation&);
  std::vector<clinical::Instant> tasks_given(const PatientKey&);

  store::Store& store_;
  const Rules& rules_;
  Log& log_;
  bool clashes_here_ = false;
  std::map<PatientKey, std::vector<clinical::CasePlan>> before_;  ///< between remember() and evaluate(), as the next
  std::map<PatientKey, std::vector<clinical::Source>> arrived_;
};

/// "source|Procedure/p1": the key of a case in the store. Where the Procedure was first recorded for another patient "|Patient/b" follows.
std::string case_key(const PatientKey&, const clinical::CasePlan&);

}  // namespace app
