#include "fhir/codes.h"
#include "fhir_read/drug.h"
#include "fhir_read/readers.h"

#include <algorithm>

namespace fhir_read {
namespace {

clinical::HomeDrug home_drug(const Resource& r, Reading& reading) {
  clinical::HomeDrug out;
  const auto drug = drug_of(r.body, r, reading);
  out.source = r.fact_source(drug.by_text);
  out.agent = drug.agent;
  out.name = drug.name;
  const auto& extension = extension_of(r.body, "last-dose", reading);
  out.last_dose = moment_of(extension["valueDateTime"], r, "extension[last-dose].valueDateTime", reading);
  return out;
}

// Somebody recorded when it was last taken: whatever the request or dispense is for, it was. A time of it that cannot be read is a dose at an unknown time.
bool tells_last_dose(const Resource& r, const Reading& reading) { return extension_of(r.body, "last-dose", reading).is_object(); }

clinical::HomeDrug home_drug_of_request(const Resource& r, const json::Value& recorded, std::string_view path, Reading& reading) {
  auto out = home_drug(r, reading);
  out.told_by_request = out.last_dose || !tells_last_dose(r, reading);
  out.recorded = moment_of(recorded, r, path, reading);
  return out;
}

bool has_code(const json::Value& concepts, const std::vector<std::string>& wanted) {
  for (const auto* one : list_of(concepts)) {
    for (const auto& coding : (*one)["coding"].items()) {
      if (std::ranges::find(wanted, coding["code"].text()) != wanted.end()) return true;
    }
  }
  return false;
}

bool any_of(std::string_view word, std::initializer_list<std::string_view> words) { return std::ranges::find(words, word) != words.end(); }

enum class Adherence { not_said, taking, not_taking, stopped };

// R5 says beside the status what R4 says by it. "stopped" stands below "not-taking" in the code system and means that there was a last dose.
// Codes that disagree say nothing; on hold is not "never".
Adherence adherence_of(const Resource& r, Reading& reading) {
  auto found = Adherence::not_said;
  for (const auto& coding : r.body["adherence"]["code"]["coding"].items()) {
    const auto code = coding["code"].text();
    const auto one = code.starts_with("stopped") ? Adherence::stopped
                     : code == "not-taking"      ? Adherence::not_taking
                     : code.starts_with("taking") || code.starts_with("on-hold") ? Adherence::taking
                                                                                 : Adherence::not_said;
    if (one == Adherence::not_said) continue;
    if (found != Adherence::not_said && found != one) {
      reading.warn(r, "adherence", "codes-disagree", "The codes of the adherence disagree; the drug counts as taken.");
      return Adherence::taking;
    }
    found = one;
  }
  return found;
}

}  // namespace

void read_medication_statement(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (any_of(status, {"draft", "intended"})) return reading.inform(r, "status", "not-done", "Not taken yet (" + std::string(status) + ").");
  auto out = home_drug(r, reading);
  const auto adherence = adherence_of(r, reading);
  out.taken = status != "not-taken" && adherence != Adherence::not_taking;
  out.recorded = moment_of(r.body["dateAsserted"], r, "dateAsserted", reading);
  // The effective time is a span of days on which it was taken; only its recorded end, once over, is a last dose.
  const auto times = times_of(r.body, {"effective"}, r, reading);
  if (!out.last_dose && (any_of(status, {"completed", "stopped"}) || adherence == Adherence::stopped) && !times.single) out.last_dose = times.end;
  reading.record.home_drugs.push_back(std::move(out));
}

void read_medication_request(const Resource& r, Reading& reading) {
  const bool taken = tells_last_dose(r, reading);
  const bool reported = r.body["reportedBoolean"].boolean().value_or(false) || r.body["reported"].boolean().value_or(false) || r.body.has("reportedReference");
  const bool at_home = reported || has_code(r.body["category"], reading.site.home_request_categories);
  const bool asked_for = !any_of(r.body["status"].text(), {"draft", "cancelled"});
  if (asked_for && !at_home) read_drug_order(r, reading);
  if (!taken && (!asked_for || !at_home)) return;
  if (!taken && r.body["doNotPerform"].boolean().value_or(false)) return reading.inform(r, "doNotPerform", "not-done", "A request not to give the drug.");
  reading.record.home_drugs.push_back(home_drug_of_request(r, r.body["authoredOn"], "authoredOn", reading));
}

void read_medication_dispense(const Resource& r, Reading& reading) {
  const bool handed_out = !any_of(r.body["status"].text(), {"preparation", "cancelled", "declined"});
  // A dispense to the ward is no home drug; one without a category is taken for one, as community pharmacies send none.
  const bool at_home = handed_out && !has_code(r.body["category"], {"inpatient"});
  if (!at_home && !tells_last_dose(r, reading)) return;
  reading.record.home_drugs.push_back(home_drug_of_request(r, first_of(r.body, {"whenHandedOver", "whenPrepared", "recorded"}), "whenHandedOver", reading));
}

void read_list(const Resource& r, Reading& reading) {
  const auto codes = codes_of(r.body["code"], reading);
  const bool home = std::ranges::any_of(codes, [&](const Code& c) { return reading.terms.home_lists.contains(c.key); });
  if (!home || r.body["status"].text() != "current") return;
  clinical::HomeList out;
  out.source = r.fact_source();
  out.at = moment_of(r.body["date"], r, "date", reading);
  const bool empty = r.body["entry"].size() == 0;
  const auto reason = code_in(r.body["emptyReason"], fhir::system_uri::list_empty_reason, reading);
  out.nil_known = empty && reason == "nilknown";
  if (empty && !out.nil_known) {
    return reading.warn(r, "emptyReason", "list-empty", "The list is empty for another reason than that nothing is taken (" + (reason.empty() ? "none given" : reason) + ").");
  }
  if (!empty && !reason.empty()) reading.warn(r, "emptyReason", "list-contradicts", "The list holds entries and a reason for being empty; the entries count.");
  reading.record.home_lists.push_back(std::move(out));
}

}  // namespace fhir_read
