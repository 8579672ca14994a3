#include "app/evaluate.h"

#include <algorithm>
#include <exception>

#include "app/compose.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"
#include "json/tree.h"
#include "report/table.h"

namespace app {

using clinical::CasePlan;
using store::Result;

namespace {

clinical::Instant instant_of(Millis at) { return clinical::Instant{std::chrono::seconds{at / 1000}}; }

bool add_parsed(fhir_read::ResourceSet& set, const store::CurrentFact& fact, const std::string& base_url) {
  auto body = json::parse(fact.body);
  if (body.has_error()) return false;
  set.add({fact.source, base_url, fact.type, fact.id, fact.version_id, std::move(*body)});
  return true;
}

/// A case whose Procedure no longer makes one: nothing is known but that it stood.
CasePlan withdrawn_plan(const store::Case& row, const clinical::Patient* patient) {
  CasePlan plan;
  plan.procedure.reference = row.key.substr(row.key.find('|') + 1);
  plan.state = clinical::CaseState::withdrawn;
  if (patient) plan.patient = *patient;
  plan.patient.source.reference = row.patient;
  return plan;
}

}  // namespace

std::string case_key(const PatientKey& patient, const CasePlan& plan) { return patient.source + "|" + plan.procedure.reference; }

Result<Evaluator::Computed> Evaluator::compute(const PatientKey& patient, Millis now) {
  const auto facts = store_.current_of_patient(patient.source, patient.reference);
  if (facts.has_error()) return facts.error();
  const std::string base_url = rules_.configuration.record && patient.source.empty() ? rules_.configuration.record->base_url : "";
  fhir_read::ResourceSet set(patient.reference);
  for (const store::CurrentFact& fact : *facts) add_parsed(set, fact, base_url);
  for (const std::string& target : fhir_read::wanted_targets(set)) {
    const auto slash = target.find('/');
    const auto held = store_.current(patient.source, target.substr(0, slash), target.substr(slash + 1));
    if (held.has_error()) return held.error();
    if (*held && !(*held)->deleted) add_parsed(set, **held, base_url);
  }
  auto read = fhir_read::read_record(set, rules_.site, rules_.terminology);
  return Computed{read.record, clinical::compute_plans(read.record, rules_.protocol, instant_of(now)), std::move(read.issues)};
}

Result<std::string> Evaluator::explain(const PatientKey& patient, const std::string& procedure, Millis now) {
  const auto computed = compute(patient, now);
  if (computed.has_error()) return computed.error();
  std::string text;
  const auto* zone = words::zone_named(rules_.configuration.site.time_zone);
  for (const CasePlan& plan : computed->plans)
    if (plan.procedure.reference == procedure)
      text += report::explain(plan, rules_.protocol, instant_of(now), {rules_.words, words::context_at(plan.started.value_or(instant_of(now)), zone)});
  return text.empty() ? "the case is withdrawn: its Procedure no longer stands\n" : text;
}

Result<void> Evaluator::remember(const PatientKey& patient) {
  const auto cases = store_.cases_of_patient(patient.source, patient.reference);
  if (cases.has_error()) return cases.error();
  if (cases->empty()) return {};
  Millis as_of = 0;
  for (const store::Case& row : *cases) as_of = std::max(as_of, row.as_of);
  auto computed = compute(patient, as_of);
  if (computed.has_error()) return computed.error();
  before_[patient] = std::move(computed->plans);
  return {};
}

void Evaluator::note_arrival(const PatientKey& patient, const store::CurrentFact& fact) {
  arrived_[patient].push_back({fact.type + "/" + fact.id, fact.version_id});
}

Result<Evaluation> Evaluator::evaluate(const PatientKey& patient, Millis now) {
  auto computed = compute(patient, now);
  if (computed.has_error()) return computed.error();
  Evaluation evaluation;
  evaluation.issues = computed->issues;
  for (std::size_t i = 0; i < computed->plans.size(); ++i)
    if (auto added = add_case(patient, computed->plans, i, now, evaluation); added.has_error()) return added.error();
  if (auto added = add_vanished(patient, *computed, now, evaluation); added.has_error()) return added.error();
  before_.erase(patient);
  arrived_.erase(patient);
  return evaluation;
}

Result<void> Evaluator::add_case(const PatientKey& patient, const std::vector<CasePlan>& plans, std::size_t index, Millis now, Evaluation& evaluation) {
  const CasePlan& plan = plans[index];
  const std::string key = case_key(patient, plan);
  auto prior = store_.case_of(key);
  if (prior.has_error()) return prior.error();
  auto items = store_.items_of_case(key);
  if (items.has_error()) return items.error();
  const auto unsettled = store_.unsettled_of_case(key);
  if (unsettled.has_error()) return unsettled.error();
  const bool under_way = rules_.configuration.record &&
                         std::any_of(unsettled->begin(), unsettled->end(), [](const store::Write& write) { return write.may_have_left; });
  ComposeInput input{rules_, plan, key, patient, std::move(*prior), std::move(*items), clinical::patient_steps_elsewhere(plans, index), under_way, now};
  CaseWork work;
  try {
    work = compose(input, log_);
  } catch (const std::exception& fault) {  // a fault of ours in one case must not stop the others
    log_.error(key + ": nothing can be written for this case, report this: " + fault.what());
    evaluation.alarms.push_back(key + ": nothing can be written for this case, report this: " + fault.what());
    return {};
  }
  const auto before = std::find_if(before_[patient].begin(), before_[patient].end(),
                                   [&](const CasePlan& one) { return one.procedure.reference == plan.procedure.reference; });
  if (before != before_[patient].end()) {
    const auto* zone = words::zone_named(rules_.configuration.site.time_zone);
    const words::Voice voice{rules_.words, words::context_at(plan.started.value_or(instant_of(now)), zone)};
    work.news = report::moved_lines(*before, plan, voice, arrived_[patient]);
  }
  evaluation.cases.push_back(std::move(work));
  return {};
}

Result<void> Evaluator::add_vanished(const PatientKey& patient, const Computed& computed, Millis now, Evaluation& evaluation) {
  const auto rows = store_.cases_of_patient(patient.source, patient.reference);
  if (rows.has_error()) return rows.error();
  for (const store::Case& row : *rows) {
    const bool stands = std::any_of(computed.plans.begin(), computed.plans.end(), [&](const CasePlan& plan) { return case_key(patient, plan) == row.key; });
    if (stands || row.state == "withdrawn") continue;
    std::vector<CasePlan> plans{withdrawn_plan(row, &computed.record.patient)};
    if (auto added = add_case(patient, plans, 0, now, evaluation); added.has_error()) return added;
    evaluation.cases.back().row.wake_at.reset();
    evaluation.cases.back().news.push_back("the case is withdrawn: its Procedure no longer stands");
  }
  return {};
}

}  // namespace app
