#include "fhir_read/read_record.h"

#include "fhir/date_time.h"
#include "fhir_read/kidney.h"
#include "fhir_read/observation.h"
#include "fhir_read/readers.h"

#include <algorithm>
#include <map>
#include <set>
#include <tuple>

namespace fhir_read {
namespace {

struct Reader {
  std::string_view type;
  void (*read)(const Resource&, Reading&);
  void (*keep_doubtful)(const Resource&, Reading&);  // nullptr: nothing stays
};

constexpr Reader kReaders[] = {
    {"Patient", read_patient, nullptr},
    {"Encounter", read_encounter, nullptr},
    {"Procedure", read_procedure, nullptr},
    {"MedicationAdministration", read_medication_administration, keep_doubtful_administration},
    {"MedicationStatement", read_medication_statement, nullptr},
    {"MedicationUsage", read_medication_statement, nullptr},
    {"MedicationRequest", read_medication_request, nullptr},
    {"MedicationDispense", read_medication_dispense, nullptr},
    {"List", read_list, nullptr},
    {"Observation", read_observation, keep_doubtful_observation},
    {"Condition", read_condition, nullptr},
    {"AllergyIntolerance", read_allergy, nullptr},
    {"Task", read_task, nullptr},
    {"ServiceRequest", read_service_request, nullptr},
    {"DeviceUseStatement", read_device_use, nullptr},
    {"DeviceUsage", read_device_use, nullptr},
    {"CareTeam", read_care_team, nullptr},
    {"Consent", read_consent, nullptr},
    {"OperationOutcome", read_kept_back, nullptr},
    {"QuestionnaireResponse", read_questionnaire_response, nullptr},
    {"DiagnosticReport", read_diagnostic_report, nullptr},
};

void read_one(const Resource& r, Reading& reading) {
  const auto reader = std::ranges::find(kReaders, std::string_view(r.type), &Reader::type);
  if (reader == std::end(kReaders)) return;
  const auto admission = admit(r, reading);
  if (admission.admitted) read_redaction(r, reading);
  if (admission.admitted) {
    reader->read(r, reading);
  } else if (admission.doubtful && reader->keep_doubtful) {
    reader->keep_doubtful(r, reading);
  }
}

// Two analysers that are called alike stay two: no value of the one is ever held against one of the other.
void tell_analysers_apart(clinical::Record& record) {
  std::map<std::string, std::set<std::string>> called;
  for (const auto& m : record.measurements)
    if (!m.analyser_reference.empty()) called[m.analyser].insert(m.analyser_reference);
  for (auto& m : record.measurements) {
    const auto it = called.find(m.analyser);
    if (it != called.end() && it->second.size() > 1 && !m.analyser_reference.empty()) m.analyser += " (" + m.analyser_reference.substr(m.analyser_reference.find('/') + 1) + ")";
  }
}

std::optional<clinical::Instant> updated(const Resource& r) {
  const auto read = fhir::read_time(r.body["meta"]["lastUpdated"].text());
  return read ? std::optional<clinical::Instant>(read->latest) : std::nullopt;
}

// What the record changed after a decision was recorded, by the record's own clock where it stamps both: a rehearsal's decisions lie in another year.
void tell_changes(clinical::Record& record, const ResourceSet& set) {
  std::map<std::string, clinical::Instant> stamps;
  for (const auto& r : set.all())
    if (const auto at = updated(r)) stamps[r.key()] = *at;
  for (auto& decision : record.decisions) {
    if (!decision.at || !decision.at->exact()) continue;
    const auto own = stamps.find(decision.source.reference);
    const auto since = own != stamps.end() ? own->second : decision.at->latest;
    for (const auto& [reference, at] : stamps)
      if (at > since && reference != decision.source.reference) decision.changed_since.push_back({reference, decision.at->latest + (at - since)});
  }
}

// A resource of no patient at all ("subject" with only a display, a Group) is not the patient's either.
bool names_nobody(const Resource& r) {
  return r.type != "Patient" && subject_element(r.body).is_null();
}

}  // namespace

ReadResult read_record(const ResourceSet& set, const SiteMap& site, const Terminology& terms) {
  Reading reading{set, site, terms, {}, {}};
  for (const auto& resource : set.all()) {
    const bool readable = std::ranges::find(kReaders, std::string_view(resource.type), &Reader::type) != std::end(kReaders);
    if (readable && names_nobody(resource)) {
      reading.error(resource, "subject", "no-subject", "Names no patient; it is not used.");
      continue;
    }
    read_one(resource, reading);
  }
  tell_analysers_apart(reading.record);
  drop_answered_rates(reading);
  tell_changes(reading.record, set);
  withdraw_denied(reading);
  if (reading.record.patient.source.reference.empty()) reading.record.patient.source.reference = set.patient();
  const auto by_place = [](const fhir::Issue& i) { return std::tie(i.at, i.code, i.severity, i.text); };
  std::ranges::sort(reading.issues, {}, by_place);
  reading.issues.erase(std::unique(reading.issues.begin(), reading.issues.end()), reading.issues.end());  // clang 14 has no std::ranges::unique with this library
  return {std::move(reading.record), std::move(reading.issues)};
}

}  // namespace fhir_read
