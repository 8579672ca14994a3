#include "app/ways_to_ask.h"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

namespace app {
namespace {

std::string type_of(const std::string& path) { return path.substr(0, path.find_first_of("/?")); }

/// "laboratory" of "Observation?patient=a&category=laboratory&date=ge2026-03-01"; empty: none.
std::string category_of(const std::string& path) {
  constexpr std::string_view key = "&category=";
  const auto at = path.find(key);
  if (at == std::string::npos) return {};
  return path.substr(at + key.size(), path.find('&', at + 1) - at - key.size());
}

}  // namespace

namespace {

// R5: DeviceUseStatement became DeviceUsage, and MedicationAdministration's effective-time became date (https://hl7.org/fhir/R5/medicationadministration.html#search).
std::vector<Asked> in_r5(std::vector<Asked> all) {
  for (Asked& one : all) {
    if (std::string_view(one.type) == "DeviceUseStatement") one.type = "DeviceUsage";
    if (std::string_view(one.date) == "effective-time") one.date = "date";
  }
  return all;
}

}  // namespace

const std::vector<Asked>& asked_about_patients(bool r5) {
  // Categories: the code systems observation-category, condition-category and medicationrequest-category (admin location) of R4.
  static const std::vector<Asked> all{
      {"Encounter", "", {}}, {"Procedure", "", {}}, {"MedicationAdministration", "effective-time", {}}, {"MedicationStatement", "", {}},
      {"MedicationRequest", "", {"inpatient", "outpatient", "community", "discharge"}}, {"MedicationDispense", "", {}},
      {"Observation", "date", {"laboratory", "vital-signs", "exam", "procedure", "survey", "activity", "therapy"}},
      {"Condition", "", {"problem-list-item", "encounter-diagnosis"}}, {"AllergyIntolerance", "", {}}, {"List", "", {}}, {"Device", "", {}}, {"Specimen", "", {}}, {"Task", "", {}},
      {"ServiceRequest", "", {}}, {"DeviceUseStatement", "", {}}, {"Consent", "", {}}, {"CareTeam", "", {}}, {"QuestionnaireResponse", "", {}}, {"DiagnosticReport", "date", {}}};
  static const std::vector<Asked> all5 = in_r5(all);
  return r5 ? all5 : all;
}

const std::vector<Asked>& asked_about_roster() {
  static const std::vector<Asked> all{{"Procedure", "date", {}}};
  return all;
}

std::vector<std::string> WaysToAsk::categories(const Asked& asked) const {
  std::vector<std::string> all(asked.categories.begin(), asked.categories.end());
  if (const auto own = own_.find(asked.type); own != own_.end()) all.insert(all.end(), own->second.begin(), own->second.end());
  return all;
}

const Asked* WaysToAsk::asked(const std::string& type) const {
  const auto found = std::ranges::find_if(*asked_, [&](const Asked& one) { return type == one.type; });
  return found == asked_->end() ? nullptr : &*found;
}

/// What finds everything comes before what needs a category, but where very many are to be expected.
std::vector<Way> WaysToAsk::order(const Asked& asked) {
  std::vector<Way> ways{Way::changed};
  if (*asked.date) ways.push_back(Way::dated);
  if (*asked.date && !asked.categories.empty()) ways.push_back(Way::by_category);
  ways.push_back(Way::plain);
  if (!*asked.date && !asked.categories.empty()) ways.push_back(Way::by_category);
  return ways;
}

Way WaysToAsk::way(const std::string& type, bool with_mark) const {
  const auto refused = refused_.find(type);
  const Asked* one = asked(type);
  for (const Way way : one ? order(*one) : std::vector<Way>{})
    if ((way != Way::changed || with_mark) && (refused == refused_.end() || !refused->second.contains(way))) return way;
  return Way::none;
}

std::vector<std::string> WaysToAsk::paths(const std::string& patient_id, const Since& since) const {
  std::vector<std::string> all;
  for (const Asked& one : *asked_) {
    const Way way = this->way(one.type, !since.changed.empty());
    if (way == Way::none) continue;
    std::string path = fmt::format("{}?patient={}&_count=100", one.type, patient_id);
    if (way == Way::changed) path += "&_lastUpdated=ge" + since.changed;
    if (way == Way::dated || (way == Way::by_category && *one.date)) path += fmt::format("&{}=ge{}", one.date, since.clinical);
    if (way != Way::by_category) {
      all.push_back(std::move(path));
      continue;
    }
    for (const std::string& category : categories(one))
      if (!no_category_.contains(fmt::format("{}?{}", one.type, category))) all.push_back(fmt::format("{}&category={}", path, category));
  }
  return all;
}

bool WaysToAsk::refused(const std::string& path) {
  const std::string type = type_of(path);
  const Asked* found = asked(type);
  if (!found) return false;
  const Asked& one = *found;
  Way refused = Way::plain;
  if (const std::string category = category_of(path); !category.empty()) {
    no_category_.insert(type + "?" + category);
    if (!std::ranges::all_of(categories(one), [&](const std::string& c) { return no_category_.contains(fmt::format("{}?{}", type, c)); })) return false;
    refused = Way::by_category;
  } else if (path.find("&_lastUpdated=") != std::string::npos) {
    refused = Way::changed;
  } else if (*one.date && path.find(fmt::format("&{}=ge", one.date)) != std::string::npos) {
    refused = Way::dated;
  }
  return refused_[type].insert(refused).second && way(type, false) != Way::none;
}

bool WaysToAsk::takes(const std::string& type, Way way) const {
  const auto refused = refused_.find(type);
  return refused == refused_.end() || !refused->second.contains(way);
}

bool WaysToAsk::complete(const std::string& type) const {
  const Way now = way(type, false);
  return now == Way::plain;
}

std::vector<std::string> WaysToAsk::categories_asked(const std::string& type) const {
  std::vector<std::string> all;
  const Asked* one = asked(type);
  if (!one || way(type, false) != Way::by_category) return all;
  for (std::string& category : categories(*one))
    if (!no_category_.contains(fmt::format("{}?{}", type, category))) all.push_back(std::move(category));
  return all;
}

std::set<std::string> WaysToAsk::lost() const {
  std::set<std::string> all;
  for (const Asked& one : *asked_) {
    if (way(one.type, false) == Way::none) all.insert(one.type);
    if (way(one.type, false) == Way::by_category)
      for (const std::string& category : categories(one))
        if (no_category_.contains(fmt::format("{}?{}", one.type, category))) all.insert(fmt::format("{} of category {}", one.type, category));
  }
  return all;
}

std::vector<std::string> WaysToAsk::others() const {
  std::vector<std::string> all;
  for (const auto& [type, refused] : refused_) {
    const Way way = this->way(type);
    if (way == Way::dated) all.push_back(type + " by date");
    if (way == Way::by_category) all.push_back(type + " by category: what has none is not found");
    if (way == Way::plain) all.push_back(type + " whole each time");
  }
  return all;
}

void WaysToAsk::forgive() {
  refused_.clear();
  no_category_.clear();
}

}  // namespace app
