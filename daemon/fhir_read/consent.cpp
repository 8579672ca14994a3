#include "fhir_read/readers.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::Withheld;
using clinical::WithheldKind;

WithheldKind kind_of_type(std::string_view type) {
  if (type.starts_with("Medication") || type == "List") return WithheldKind::drugs;
  if (type == "Observation" || type == "DiagnosticReport" || type == "Specimen") return WithheldKind::values;
  if (type == "Condition" || type == "AllergyIntolerance" || type == "Procedure") return WithheldKind::findings;
  return WithheldKind::everything;
}

// Consents to research or to a treatment say nothing of what is shown.
bool about_privacy(const json::Value& consent) {
  const auto scopes = consent["scope"]["coding"].items();
  if (!scopes.empty()) return std::ranges::any_of(scopes, [](const json::Value& c) { return c["code"].text() == "patient-privacy"; });
  return std::ranges::none_of(consent["category"].items(), [](const json::Value& category) {
    return std::ranges::any_of(category["coding"].items(), [](const json::Value& c) { return c["code"].text() == "research" || c["code"].text() == "treatment"; });
  });
}

// The resource types a provision names: class in R4, resourceType in R5. One that names codes or labels and no type may concern anything.
void add_kinds(const json::Value& provision, std::vector<WithheldKind>& kinds) {
  std::vector<WithheldKind> named;
  for (const auto* member : {"class", "resourceType"})
    for (const auto& coding : provision[member].items()) named.push_back(kind_of_type(coding["code"].text()));
  if (named.empty()) named.push_back(WithheldKind::everything);
  kinds.insert(kinds.end(), named.begin(), named.end());
}

// R4: each provision has its type, absent means as the one above; R5: provisions are the exceptions to `decision`.
void find_denied(const json::Value& provision, bool denies, bool r5, std::vector<WithheldKind>& kinds) {
  const auto type = provision["type"].text();
  if (type == "deny") denies = true;
  if (type == "permit") denies = false;
  const auto inner = list_of(provision["provision"]);
  if (denies) add_kinds(provision, kinds);
  for (const auto* one : inner) find_denied(*one, r5 ? !denies : denies, r5, kinds);
}

void add(const Resource& r, const std::vector<WithheldKind>& kinds, const std::optional<clinical::Moment>& until, Reading& reading) {
  for (std::size_t i = 0; i < kinds.size(); ++i)
    if (std::find(kinds.begin(), kinds.begin() + static_cast<std::ptrdiff_t>(i), kinds[i]) == kinds.begin() + static_cast<std::ptrdiff_t>(i))
      reading.record.withheld.push_back({r.fact_source(), kinds[i], until});
}

}  // namespace

void read_consent(const Resource& r, Reading& reading) {
  if (r.body["status"].text() != "active" || !about_privacy(r.body)) return;
  const bool r5 = r.body.has("decision");
  const bool denies = r.body["decision"].text() == "deny";
  std::vector<WithheldKind> kinds;
  if (denies) kinds.push_back(WithheldKind::everything);
  std::optional<clinical::Moment> until;
  if (r.body["period"].is_object()) until = period_of(r.body["period"], r, "period", reading).end;
  for (const auto* provision : list_of(r.body["provision"])) {
    find_denied(*provision, r5 && !denies, r5, kinds);
    if (!r5 && (*provision)["period"].is_object()) until = period_of((*provision)["period"], r, "provision.period", reading).end;
  }
  if (kinds.empty()) return;
  reading.warn(r, "provision", "withheld", "A consent of the patient keeps facts back: what is here may not be all.");
  add(r, kinds, until, reading);
}

// Labels of v3-ObservationValue that say that something was taken out of a resource or made unreadable.
std::string redaction_of(const json::Value& resource) {
  for (const auto* place : {"security", "tag"})
    for (const auto& label : resource["meta"][place].items())
      if (const auto code = label["code"].text(); code == "REDACTED" || code == "MASKED" || code == "SUBSETTED") return std::string(code);
  return {};
}

void read_redaction(const Resource& r, Reading& reading) {
  const auto code = redaction_of(r.body);
  if (code.empty()) return;
  reading.warn(r, "meta.security", "withheld", "Marked " + code + ": something was left out of it; what it does not say is not known.");
  add(r, {kind_of_type(r.type)}, std::nullopt, reading);
}

void read_kept_back(const Resource& r, Reading& reading) {
  const auto type = kept_back_about(r.body, "type").text();
  reading.warn(r, "", "withheld", "The record keeps " + (type.empty() ? std::string("facts") : std::string(type)) + " of the patient back: what is here may not be all.");
  add(r, {kind_of_type(type)}, std::nullopt, reading);
}

}  // namespace fhir_read
