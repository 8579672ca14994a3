#include "app/unmapped.h"

#include <algorithm>
#include <optional>

#include "fhir_read/intake.h"
#include "fhir_read/read_record.h"
#include "fhir_read/resource_set.h"
#include "json/tree.h"

namespace app {
namespace {

constexpr std::size_t kKinds = 1000, kPlaces = 10'000, kPage = 500;

bool is_about_codes(const fhir::Issue& issue) { return issue.code.starts_with("unmapped-") || issue.code.starts_with("unknown-"); }

std::optional<fhir_read::Resource> resource_of(const store::CurrentFact& fact) {
  auto body = json::parse(fact.body);
  if (body.has_error()) return std::nullopt;
  return fhir_read::Resource{fact.source, "", fact.type, fact.id, fact.version_id, std::move(*body)};
}

/// One resource with what it refers to (the Medication of a dose).
store::Result<fhir::Issues> issues_of(store::Store& store, const Rules& rules, const store::CurrentFact& fact) {
  fhir_read::ResourceSet set(fact.patient);
  if (auto resource = resource_of(fact)) set.add(std::move(*resource));
  for (const std::string& key : fhir_read::wanted_targets(set)) {
    const auto slash = key.find('/');
    const auto held = store.current(fact.source, key.substr(0, slash), key.substr(slash + 1));
    if (held.has_error()) return held.error();
    if (!*held || (*held)->deleted) continue;
    if (auto resource = resource_of(**held)) set.add(std::move(*resource));
  }
  return fhir_read::read_record(set, rules.site, rules.terminology).issues;
}

}  // namespace

void Unmapped::add(const fhir::Issues& issues) {
  for (const fhir::Issue& issue : issues) {
    if (!is_about_codes(issue)) continue;
    const std::string what = issue.code + ": " + issue.text;
    if (places_.size() >= kKinds && !places_.contains(what)) continue;
    auto& places = places_[what];
    if (places.size() < kPlaces) places.insert(issue.at);
  }
}

std::vector<std::pair<std::string, std::int64_t>> Unmapped::by_count() const {
  std::vector<std::pair<std::string, std::int64_t>> list;
  for (const auto& [what, places] : places_) list.emplace_back(what, static_cast<std::int64_t>(places.size()));
  std::ranges::stable_sort(list, [](const auto& a, const auto& b) { return a.second > b.second; });
  return list;
}

store::Result<Unmapped> unmapped_held(store::Store& store, const Rules& rules) {
  Unmapped found;
  for (const char* type : {"Procedure", "Observation", "MedicationAdministration", "MedicationStatement", "MedicationUsage", "MedicationRequest", "MedicationDispense"}) {
    for (std::string after;;) {
      const auto page = store.current_of_type("", type, kPage, after);
      if (page.has_error()) return page.error();
      for (const auto& fact : *page) {
        if (fact.patient.empty()) continue;
        const auto issues = issues_of(store, rules, fact);
        if (issues.has_error()) return issues.error();
        found.add(*issues);
      }
      if (page->size() < kPage) break;
      after = page->back().id;
    }
  }
  return found;
}

}  // namespace app
