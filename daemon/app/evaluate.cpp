#include "app/evaluate.h"

#include <algorithm>
#include <exception>

#include <fmt/format.h>

#include "app/case_notes.h"
#include "app/lanes.h"
#include "app/compose.h"
#include "app/standing_items.h"
#include "clinical/names.h"
#include "clinical/stopped.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"
#include "fhir_read/labels.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"
#include "fhir_write/lookup.h"
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

/// What became of a Procedure that makes no case any more, for people.
clinical::Reason what_became_of(const std::optional<store::CurrentFact>& procedure) {
  if (!procedure || procedure->deleted) return {"case.gone.deleted", {}};
  const auto body = json::parse(procedure->body);
  const std::string status = body.has_error() ? std::string() : fhir_read::status_of(*body);
  if (status == "entered-in-error") return {"case.gone.entered-in-error", {}};
  if (status == "not-done") return {"case.gone.not-done", {}};
  return {"case.gone.changed", {}};
}

/// A case whose Procedure no longer makes one: nothing is known but that it stood.
CasePlan withdrawn_plan(const store::Case& row, const clinical::Patient* patient, bool other_subject) {
  CasePlan plan;
  plan.procedure.reference = procedure_of(row.key);
  plan.state = clinical::CaseState::withdrawn;
  if (patient) plan.patient = *patient;
  plan.patient.source.reference = row.patient;
  if (other_subject) plan.stopped = clinical::Reason{"case.stopped.subject", {}};
  return plan;
}

/// A record that now names the other groin may be right now or may have been right before: people look at both. Ends with a check made after it.
void tell_changed_sides(CasePlan& plan, CaseNotes& notes, Millis now) {
  for (const auto& site : plan.sites) {
    const auto before = notes.sides.find(site.key);
    const std::string side(clinical::name_of(site.side));
    if (before != notes.sides.end() && site.side != clinical::Side::unknown && before->second != side) notes.moved.push_back({site.key, before->second, side, now});
    for (const auto& one : notes.moved) {
      const clinical::Instant at = instant_of(one.at);
      if (one.site != site.key || (site.last_check && site.last_check->at && site.last_check->at->latest > at)) continue;
      clinical::Alert alert;
      alert.trigger = "side-changed";
      alert.level = clinical::AlertLevel::urgent;
      alert.site = site.key;
      alert.since = at;
      alert.episode = "side-changed|" + site.key + "|" + fhir::format_utc(at);
      alert.why = {"alert.side-changed", {{"from", "@side." + one.from}, {"to", "@side." + one.to}, {"at", at}}};
      alert.inputs = {plan.procedure};
      plan.alerts.insert(plan.alerts.begin(), std::move(alert));
    }
  }
}

}  // namespace

std::string case_key(const PatientKey& patient, const CasePlan& plan) { return patient.source + "|" + plan.procedure.reference; }

std::string Evaluator::base_url(const PatientKey& patient) const {
  return rules_.configuration.record && patient.source.empty() ? rules_.configuration.record->base_url : "";
}

/// Patients that the record has merged into this one, one into the other included.
Result<std::set<std::string>> Evaluator::merged_into(const PatientKey& patient) {
  std::set<std::string> merged;
  std::vector<std::string> open{patient.reference};
  while (!open.empty()) {
    const std::string into = std::move(open.back());
    open.pop_back();
    const auto referrers = store_.referrers(patient.source, into);
    if (referrers.has_error()) return referrers.error();
    for (const auto& one : *referrers) {
      if (one.type != "Patient" || one.patient == patient.reference || merged.contains(one.patient)) continue;
      const auto survivor = survivor_of({patient.source, one.patient});
      if (survivor.has_error()) return survivor.error();
      if (*survivor == into && merged.insert(one.patient).second) open.push_back(one.patient);
    }
  }
  return merged;
}

/// The patient that this one was merged into, where that one is known here; else empty.
Result<std::string> Evaluator::survivor_of(const PatientKey& patient) {
  const auto id = [](const std::string& reference) { return reference.substr(reference.find('/') + 1); };
  const auto held = store_.current(patient.source, "Patient", id(patient.reference));
  if (held.has_error()) return held.error();
  if (!*held || (*held)->deleted) return std::string();
  const auto body = json::parse((*held)->body);
  if (body.has_error()) return std::string();
  const std::string into = fhir_read::patient_state(*body, base_url(patient)).replaced_by;
  if (into.empty() || into == patient.reference) return std::string();
  const auto survivor = store_.current(patient.source, "Patient", id(into));
  if (survivor.has_error()) return survivor.error();
  return *survivor && !(*survivor)->deleted ? into : std::string();
}

Result<Evaluator::Computed> Evaluator::compute(const PatientKey& patient, Millis now) {
  auto merged = merged_into(patient);
  if (merged.has_error()) return merged.error();
  fhir_read::ResourceSet set(patient.reference, *merged);
  const auto add_facts_of = [&](const std::string& reference) -> Result<void> {
    const auto facts = store_.current_of_patient(patient.source, reference);
    if (facts.has_error()) return facts.error();
    for (const store::CurrentFact& fact : *facts)
      if (fact.type != "Patient" || reference == patient.reference) add_parsed(set, fact, base_url(patient));
    return {};
  };
  if (auto added = add_facts_of(patient.reference); added.has_error()) return added.error();
  for (const std::string& other : *merged)
    if (auto added = add_facts_of(other); added.has_error()) return added.error();
  std::vector<std::string> wanted;
  for (const std::string& target : fhir_read::wanted_targets(set)) {
    const auto slash = target.find('/');
    const auto held = store_.current(patient.source, target.substr(0, slash), target.substr(slash + 1));
    if (held.has_error()) return held.error();
    if (!*held) wanted.push_back(target);
    else if (!(*held)->deleted) add_parsed(set, **held, base_url(patient));
  }
  if (auto added = add_wholes(patient, set, wanted); added.has_error()) return added.error();
  if (!set.find(patient.source, patient.reference)) wanted.push_back(patient.reference);
  auto read = fhir_read::read_record(set, rules_.site, rules_.terminology);
  for (auto& procedure : read.record.procedures) {
    const auto row = store_.case_of(patient.source + "|" + procedure.source.reference);
    if (row.has_error()) return row.error();
    const Millis known = *row ? notes_of(**row).known_since : now;
    if (known > 0) procedure.known_since = instant_of(known);
    procedure.closer_since.emplace();
    if (*row)
      for (const auto& [site, since] : notes_of(**row).closer) procedure.closer_since->emplace(site, instant_of(since));
  }
  std::map<std::string, std::vector<std::string>> places;
  for (const auto& encounter : read.record.encounters) {
    auto places_there = places_of(patient, encounter.place_reference);
    if (places_there.has_error()) return places_there.error();
    places[encounter.source.reference] = std::move(*places_there);
  }
  return Computed{read.record,       clinical::compute_plans(read.record, rules_.protocol, instant_of(now)), std::move(read.issues), std::move(wanted), fhir_read::highest_confidentiality(set),
                  fhir_read::sensitivity_labels(set), std::move(*merged), std::move(places)};
}

namespace {
constexpr std::size_t kDepth = 8;  // of places in places: bed, room, bay, ward, building, site
}

/// The places that places are part of: a sheet names the unit with the bed.
Result<void> Evaluator::add_wholes(const PatientKey& patient, fhir_read::ResourceSet& set, std::vector<std::string>& wanted) {
  std::vector<std::string> places;
  for (const auto& one : set.all())
    if (one.type == "Location") places.push_back(one.key());
  for (const std::string& place : places) {
    const auto chain = places_of(patient, place);
    if (chain.has_error()) return chain.error();
    for (const std::string& whole : *chain) {
      if (set.find(patient.source, whole)) continue;
      const auto held = store_.current(patient.source, "Location", whole.substr(whole.find('/') + 1));
      if (held.has_error()) return held.error();
      if (!*held) wanted.push_back(whole);
      else if (!(*held)->deleted) add_parsed(set, **held, base_url(patient));
    }
  }
  return {};
}

Result<std::vector<std::string>> Evaluator::places_of(const PatientKey& patient, std::string place) {
  std::vector<std::string> chain;
  while (place.starts_with("Location/") && chain.size() < kDepth && std::ranges::find(chain, place) == chain.end()) {
    chain.push_back(place);
    const auto held = store_.current(patient.source, "Location", place.substr(place.find('/') + 1));
    if (held.has_error()) return held.error();
    if (!*held || (*held)->deleted) break;
    const auto body = json::parse((*held)->body);
    place = body.has_error() ? std::string() : fhir_read::part_of(*body, base_url(patient));
  }
  return chain;
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
  Evaluation evaluation;
  const auto survivor = survivor_of(patient);
  if (survivor.has_error()) return survivor.error();
  if (!survivor->empty()) return evaluation;  // everything of this patient is the survivor's
  auto computed = compute(patient, now);
  if (computed.has_error()) return computed.error();
  evaluation.issues = computed->issues;
  if (!computed->plans.empty()) evaluation.wanted = computed->wanted;
  std::set<std::string> standing;
  for (std::size_t i = 0; i < computed->plans.size(); ++i) {
    const auto key = key_for(patient, *computed, computed->plans[i], evaluation);
    if (key.has_error()) return key.error();
    standing.insert(*key);
    if (auto added = add_case(patient, *key, *computed, computed->plans, i, now, evaluation); added.has_error()) return added.error();
  }
  if (auto added = add_vanished(patient, *computed, standing, now, evaluation); added.has_error()) return added.error();
  before_.erase(patient);
  arrived_.erase(patient);
  return evaluation;
}

/// A Procedure that was recorded for somebody else before (and not merged) makes a case of its own: no item is ever shared by two patients.
Result<std::string> Evaluator::key_for(const PatientKey& patient, const Computed& computed, const CasePlan& plan, Evaluation& evaluation) {
  const std::string key = case_key(patient, plan);
  const auto first = store_.case_of(key);
  if (first.has_error()) return first.error();
  if (!*first || (*first)->patient == patient.reference || computed.merged.contains((*first)->patient)) return key;
  const std::string own = key + "|" + patient.reference;
  evaluation.alarms.emplace_back(own, fmt::format("{}: recorded for {} at first and for {} now: the first plan is withdrawn and its sheet void, a new one is made; look at both patients",
                                                  plan.procedure.reference, (*first)->patient, patient.reference));
  return own;
}

Result<void> Evaluator::add_case(const PatientKey& patient, const std::string& key, const Computed& computed, const std::vector<CasePlan>& plans, std::size_t index, Millis now,
                                 Evaluation& evaluation) {
  CasePlan plan = plans[index];
  auto prior = store_.case_of(key);
  if (prior.has_error()) return prior.error();
  if (*prior) {
    CaseNotes notes = notes_of(**prior);
    const auto& arrived = arrived_[patient];
    if (std::ranges::any_of(arrived, [](const clinical::Source& source) { return source.reference.starts_with("Patient/"); })) notes.stopped.clear();
    if ((*prior)->patient != patient.reference) notes.identifiers = {plan.patient.identifiers.begin(), plan.patient.identifiers.end()};
    if (!notes.stopped.empty()) {
      evaluation.alarms.emplace_back(key, fmt::format("{}: the record's {} has other identifiers than the case's; the plan is closed and its sheet void until a person has looked", key, patient.reference));
      if (!plan.stopped) clinical::stop(plan, clinical::Reason{notes.stopped, {}});
    }
    if (!notes.foreign.empty()) evaluation.alarms.emplace_back(key, fmt::format("{}: the CarePlan in the record {}; nothing is written for this case", key, notes.foreign));
    tell_changed_sides(plan, notes, now);
    (*prior)->extra = text_of(notes);
  }
  if (rules_.configuration.record && !patient.source.empty())
    evaluation.alarms.emplace_back(key, fmt::format("{}: this case was sent by '{}', which is not known to be the record: nothing is written for it there (record.source says which sender the record is)",
                                                    key, patient.source));
  auto items = store_.items_of_case(key);
  if (items.has_error()) return items.error();
  const auto unsettled = store_.unsettled_of_case(key);
  if (unsettled.has_error()) return unsettled.error();
  const bool under_way = rules_.configuration.record &&
                         std::any_of(unsettled->begin(), unsettled->end(), [](const store::Write& write) { return write.may_have_left; });
  const auto documents = store_.unsettled_of_case(documents_lane(key));
  if (documents.has_error()) return documents.error();
  auto prints = store_.prints_of_case(key);
  if (prints.has_error()) return prints.error();
  const bool first_time = !*prior;
  ComposeInput input{rules_, plan, key, patient, std::move(*prior), std::move(*items), clinical::patient_steps_elsewhere(plans, index), under_way, now};
  input.prints = std::move(*prints);
  input.confidentiality = computed.confidentiality;
  input.sensitivity = computed.sensitivity;
  input.clashes_here = clashes_here_;
  input.documents_under_way = std::ranges::any_of(*documents, [](const store::Write& write) { return write.may_have_left; });
  if (serves(rules_) && rules_.configuration.documents.encounter == "needed" && plan.encounter.empty() && !plan.stopped)
    evaluation.alarms.emplace_back(key, fmt::format("{}: the record takes no document without an Encounter and none is known for {}: its sheet is not sent", key, patient.reference));
  if (const auto places = computed.places.find(plan.encounter); places != computed.places.end()) input.places = places->second;
  input.given = [this, patient, now, &evaluation] {
    auto given = tasks_given(patient);
    for (const CaseWork& other : evaluation.cases) given.insert(given.end(), static_cast<std::size_t>(other.new_tasks), instant_of(now));
    return given;
  };
  if (first_time) input.is_taken = [this, key, &evaluation](const std::string& identity) { return is_taken(identity, key, evaluation); };
  CaseWork work;
  try {
    work = compose(input, log_);
    if (notes_of(work.row).identity.ends_with("|" + key))
      evaluation.alarms.emplace_back(key, fmt::format("{}: its Procedure bears the identifier of another one that has a plan here: look whether one of the two is charted for the wrong patient, or twice", key));
    work.fresh = first_time;
    work.who = plan.patient.name;
  } catch (const std::exception& fault) {  // a fault of ours in one case must not stop the others
    log_.error(key + ": nothing can be written for this case, report this: " + fault.what());
    evaluation.alarms.emplace_back(key, key + ": nothing can be written for this case, report this: " + fault.what());
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

/// Whether another case, stored or of this evaluation, goes by this identity.
bool Evaluator::is_taken(const std::string& identity, const std::string& key, const Evaluation& evaluation) {
  const auto same = [&](const store::Case& row) { return row.key != key && notes_of(row).identity == identity; };
  if (std::ranges::any_of(evaluation.cases, [&](const CaseWork& one) { return same(one.row); })) return true;
  constexpr std::size_t page = 500;
  for (std::size_t from = 0;; from += page) {
    const auto keys = store_.case_keys(page, from);
    if (keys.has_error()) return false;  // the next use of the store tells of it
    for (const std::string& one : *keys)
      if (const auto row = store_.case_of(one); row.has_value() && *row && same(**row)) return true;
    if (keys->size() < page) return false;
  }
}

/// When each Task of the patient's cases was first written, as it says itself.
std::vector<clinical::Instant> Evaluator::tasks_given(const PatientKey& patient) {
  std::vector<clinical::Instant> given;
  const auto rows = store_.cases_of_patient(patient.source, patient.reference);
  if (rows.has_error()) return given;  // read a moment ago: the next use of the store tells of it
  for (const store::Case& row : *rows) {
    const auto items = store_.items_of_case(row.key);
    if (items.has_error()) return given;
    for (const auto& [key, standing] : on_server(*items))
      if (const auto at = key.kind == clinical::ItemKind::task ? fhir_write::authored(standing.body) : std::nullopt) given.push_back(*at);
  }
  return given;
}

Result<void> Evaluator::add_vanished(const PatientKey& patient, const Computed& computed, const std::set<std::string>& standing, Millis now, Evaluation& evaluation) {
  const auto rows = store_.cases_of_patient(patient.source, patient.reference);
  if (rows.has_error()) return rows.error();
  for (const store::Case& row : *rows) {
    if (standing.contains(row.key)) continue;
    const std::string procedure = procedure_of(row.key);
    const auto held = store_.current(patient.source, "Procedure", procedure.substr(procedure.find('/') + 1));
    if (held.has_error()) return held.error();
    const bool other_subject = *held && !(*held)->deleted && !(*held)->patient.empty() && (*held)->patient != patient.reference;
    std::vector<CasePlan> plans{withdrawn_plan(row, &computed.record.patient, other_subject)};
    plans.front().gone = what_became_of(*held);
    if (auto added = add_case(patient, row.key, computed, plans, 0, now, evaluation); added.has_error()) return added;
    if (evaluation.cases.empty() || evaluation.cases.back().row.key != row.key) continue;
    evaluation.cases.back().row.wake_at.reset();
    if (row.state != "withdrawn") evaluation.cases.back().news.push_back(other_subject ? "the case is withdrawn: its Procedure is now recorded for another patient"
                                                         : "the case is withdrawn: its Procedure no longer stands");
  }
  return {};
}

}  // namespace app
