#include "fhir_read/searchset.h"

#include "fhir/codes.h"
#include "fhir/digest.h"
#include "fhir/reference.h"
#include "fhir_read/readers.h"

#include <algorithm>
#include <array>
#include <set>

namespace fhir_read {
namespace {

constexpr std::string_view kKeptBack = AFTERSHEATH_BASE "/StructureDefinition/kept-back";

// Parameters that page, sort or add to a search and take nothing from what it finds.
bool leaves_all(std::string_view parameter) {
  constexpr std::array<std::string_view, 9> all{"_count", "_sort", "_include", "_revinclude", "_include:iterate", "_revinclude:iterate", "_format", "_pretty", "_total"};
  return std::ranges::find(all, parameter) != all.end();
}

bool names_patient(std::string_view parameter) {
  return parameter == "patient" || parameter == "subject" || parameter == "patient:Patient" || parameter == "subject:Patient";
}

// "a", "Patient/a" and the address of either.
std::string patient_of(std::string_view value) {
  if (fhir::is_id(value)) return "Patient/" + std::string(value);
  const auto target = fhir::parse_reference(value);
  return target.type == "Patient" && fhir::is_id(target.id) ? "Patient/" + target.id : std::string();
}

bool is_outcome(const json::Value& entry) {
  return entry["search"]["mode"].text() == "outcome" || entry["resource"]["resourceType"].text() == "OperationOutcome";
}

std::string self_of(const json::Value& bundle) {
  for (const auto& link : bundle["link"].items())
    if (link["relation"].text() == "self") return std::string(link["url"].text());
  return {};
}

bool has_next(const json::Value& bundle) {
  return std::ranges::any_of(bundle["link"].items(), [](const json::Value& link) { return link["relation"].text() == "next"; });
}

// What the entries have in common, where the address does not say.
SearchedFor common_to(const json::Value& bundle) {
  std::set<std::string> types, patients;
  for (const auto& entry : bundle["entry"].items()) {
    if (is_outcome(entry) || entry["search"]["mode"].text() == "include") continue;
    types.emplace(entry["resource"]["resourceType"].text());
    if (auto patient = subject_of(entry["resource"]).patient; !patient.empty()) patients.insert(std::move(patient));
  }
  return {types.size() == 1 ? *types.begin() : "", patients.size() == 1 ? *patients.begin() : "", true};
}

SearchedFor subject_of_search(const json::Value& bundle) {
  auto what = searched_for(self_of(bundle));
  if (!what.patient.empty()) return what;
  const auto common = common_to(bundle);
  return {what.type.empty() ? common.type : what.type, common.patient, true};
}

std::string text_in(const json::Value& outcome) {
  for (const auto& issue : outcome["issue"].items()) {
    for (const auto text : {issue["details"]["text"].text(), issue["diagnostics"].text(), issue["code"].text()})
      if (!text.empty()) return std::string(text.substr(0, 120));
  }
  return "no reason given";
}

}  // namespace

SearchedFor searched_for(std::string_view url) {
  SearchedFor what;
  const auto question = url.find('?');
  const auto path = url.substr(0, question);
  const auto last = path.substr(path.rfind('/') == std::string_view::npos ? 0 : path.rfind('/') + 1);
  if (fhir::is_type_name(last)) what.type = last;
  if (question == std::string_view::npos) return what;
  std::set<std::string> patients;
  for (auto rest = url.substr(question + 1); !rest.empty();) {
    const auto one = rest.substr(0, rest.find('&'));
    rest.remove_prefix(std::min(one.size() + 1, rest.size()));
    const auto name = one.substr(0, one.find('='));
    const auto value = one.size() > name.size() ? one.substr(name.size() + 1) : std::string_view();
    if (names_patient(name)) patients.insert(patient_of(value));
    else if (!leaves_all(name)) what.narrowed = true;
  }
  if (patients.size() == 1) what.patient = *patients.begin();
  return what;
}

OutcomeBrief outcome_brief(const json::Value& outcome) {
  constexpr std::array<std::string_view, 3> kept{"security", "forbidden", "suppressed"};
  OutcomeBrief brief;
  for (const auto& issue : outcome["issue"].items()) {
    const auto severity = issue["severity"].text(), code = issue["code"].text();
    const bool mild = severity == "warning" || severity == "information" || severity == "success";
    brief.kept_back = brief.kept_back || std::ranges::find(kept, code) != kept.end();
    brief.error = brief.error || !mild || code == "incomplete";
  }
  return brief;
}

bool labelled_in_part(const json::Value& bundle) { return !redaction_of(bundle).empty(); }

ResourceEvent kept_back(const SearchedFor& what, bool still) {
  const std::string id = "kept-back-" + fhir::sha256_hex(what.patient + " " + what.type).substr(0, 40);
  if (!still) return {"DELETE", "OperationOutcome", id, "", {}, ""};
  auto about = json::Value::array({json::Value::object({{"url", "patient"}, {"valueReference", json::Value::object({{"reference", what.patient}})}})});
  if (!what.type.empty()) about.push(json::Value::object({{"url", "type"}, {"valueCode", what.type}}));
  auto body = json::Value::object({{"resourceType", "OperationOutcome"}, {"id", id}});
  body.set("extension", json::Value::array({json::Value::object({{"url", kKeptBack}, {"extension", std::move(about)}})}));
  body.set("issue", json::Value::array({json::Value::object({{"severity", "warning"}, {"code", "suppressed"}})}));
  return {"PUT", "OperationOutcome", id, "", std::move(body), ""};
}

const json::Value& kept_back_about(const json::Value& outcome, std::string_view what) {
  for (const auto& extension : outcome["extension"].items()) {
    if (extension["url"].text() != kKeptBack) continue;
    for (const auto& part : extension["extension"].items())
      if (part["url"].text() == what) return part[what == "patient" ? "valueReference" : "valueCode"];
  }
  return outcome["subject"];  // none: null
}

SearchsetBrief searchset_brief(const json::Value& bundle, const std::string& at) {
  SearchsetBrief brief;
  const auto what = subject_of_search(bundle);
  bool kept = labelled_in_part(bundle), part = has_next(bundle);
  if (kept) brief.issues.push_back({fhir::Severity::warning, "withheld", at + ".meta.security", "The Bundle is marked: something was left out of it; what it does not show is not known."});
  if (part) brief.issues.push_back({fhir::Severity::error, "partial", at + ".link", "A further page follows (link next): this is a part of what was searched for."});
  for (std::size_t i = 0; i < bundle["entry"].size(); ++i) {
    const auto& entry = bundle["entry"].at(i);
    if (!is_outcome(entry)) continue;
    const auto outcome = outcome_brief(entry["resource"]);
    const std::string place = at + ".entry[" + std::to_string(i) + "]", said = text_in(entry["resource"]);
    if (outcome.kept_back) brief.issues.push_back({fhir::Severity::warning, "withheld", place, "The record keeps something back: " + said});
    if (outcome.error) brief.issues.push_back({fhir::Severity::error, "partial", place, "An error goes with the search, so this may be a part of what was searched for: " + said});
    if (!outcome.kept_back && !outcome.error) brief.issues.push_back({fhir::Severity::information, "outcome", place, "A remark goes with the search: " + said});
    kept = kept || outcome.kept_back;
    part = part || outcome.error;
  }
  if (what.patient.empty()) return brief;
  const bool whole_again = !kept && !part && !what.narrowed && !what.type.empty();
  if (kept || whole_again) brief.events.push_back(kept_back(what, kept));
  return brief;
}

}  // namespace fhir_read
