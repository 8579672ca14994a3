// From a plan and what stands to what has to be written: resources, sheet, rows of the outbox.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "app/evaluate.h"

namespace app {

struct ComposeInput {
  const Rules& rules;
  const clinical::CasePlan& plan;
  std::string key;                         ///< of the case
  PatientKey patient;
  std::optional<store::Case> prior;        ///< none: first time
  std::vector<store::Item> items;          ///< of the case, as confirmed
  bool patient_steps_elsewhere = false;
  bool write_under_way = false;            ///< a write of this case may have left: nothing new is queued until its outcome is known
  Millis now = 0;
  bool documents_under_way = false;        ///< the same of its documents, where they go their own way
  std::vector<store::PrintOrder> prints{}; ///< of the case, oldest first
  std::function<std::vector<clinical::Instant>()> given{};  ///< when each Task of the patient was first written, of all cases; empty: no limit is kept
  std::string confidentiality{};           ///< highest label of all facts of the patient; empty: none is labelled
  std::vector<fhir::Label> sensitivity{};  ///< every other label of them that is carried forward
  bool clashes_here = false;               ///< the record has refused a clash of an order: new ones are served here
  std::function<bool(const std::string&)> is_taken{};  ///< whether another case has this identity; empty: none has
  std::vector<std::string> places{};       ///< where the patient lies: a Location, then what it is part of; empty: not recorded
};

CaseWork compose(const ComposeInput&, Log&);

/// Names the blob in which the items of a queued write to a record wait for the answer.
std::string pending_items_name(const std::string& write_body);

}  // namespace app
