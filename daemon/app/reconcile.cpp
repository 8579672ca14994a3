#include "app/reconcile.h"

#include <date/tz.h>

#include <algorithm>
#include <set>

#include "fhir_read/intake.h"
#include "fhir_read/resource_set.h"
#include "fhir_read/search_query.h"
#include "json/tree.h"

namespace app {
namespace {

bool is_asked_for(const std::string& type) {
  return std::ranges::any_of(asked_about_patients(), [&](const Asked& one) { return type == one.type; }) || type == "DeviceUsage";
}

}  // namespace

std::string reconciling_day(store::Millis now, const std::string& zone, int hour) {
  const date::sys_seconds instant{std::chrono::seconds{now / 1000}};
  const auto local = date::locate_zone(zone)->to_local(instant) - std::chrono::hours{hour};
  return date::format("%F", date::floor<date::days>(local));
}

std::vector<std::string> unseen(store::Store& store, const std::string& patient, const SearchResult& result, const WaysToAsk& ways) {
  const auto held = store.current_of_patient("", patient);
  if (held.has_error() || (!result.whole && result.unanswered.empty())) return {};
  std::set<std::string> seen;
  for (const Found& found : result.found) seen.insert(found.event.resource_type + "/" + found.event.resource_id);
  std::vector<std::string> missing;
  std::set<std::string> kept_from_us;
  for (const std::string& path : result.withheld) kept_from_us.insert(path.substr(0, path.find('?')));
  for (const auto& fact : *held)
    if (const std::string reference = fact.type + "/" + fact.id; is_asked_for(fact.type) && ways.way(fact.type) != Way::none && !kept_from_us.contains(fact.type) && !result.unanswered.contains(fact.type) && !seen.contains(reference)) missing.push_back(reference);
  return missing;
}

bool dated_after(store::Store& store, const std::string& type, const std::string& id, const std::string& day) {
  const auto fact = store.current("", type, id);
  if (fact.has_error() || !*fact || (*fact)->deleted) return false;
  const auto body = json::parse((*fact)->body);
  return body.has_value() && clinical_day(*body) > day;
}

bool of_a_category_asked(store::Store& store, const std::string& type, const std::string& id, const WaysToAsk& ways, const std::string& day) {
  const auto asked = ways.categories_asked(type);
  if (asked.empty()) return false;
  const auto fact = store.current("", type, id);
  if (fact.has_error() || !*fact || (*fact)->deleted) return false;
  const auto body = json::parse((*fact)->body);
  if (body.has_error()) return false;
  const auto& all = asked_about_patients();
  const bool dated = std::ranges::any_of(all, [&](const Asked& one) { return type == one.type && *one.date; });
  if (dated && !dated_after(store, type, id, day)) return false;
  std::set<std::string> codes;
  for (const std::string& one : asked) codes.insert(fhir_read::percent_decoded(one.substr(one.find("%7C") == std::string::npos ? 0 : one.find("%7C") + 3)));
  for (const auto& category : (*body)["category"].items())
    for (const auto& coding : category["coding"].items())
      if (codes.contains(std::string(coding["code"].text()))) return true;
  return false;
}

std::vector<std::string> referred_to(store::Store& store, const std::string& patient, const std::string& base_url) {
  const auto facts = store.current_of_patient("", patient);
  if (facts.has_error()) return {};
  fhir_read::ResourceSet set(patient);
  for (const auto& fact : *facts)
    if (auto body = json::parse(fact.body); body.has_value()) set.add({fact.source, base_url, fact.type, fact.id, fact.version_id, std::move(*body)});
  std::vector<std::string> held;
  for (std::string& target : fhir_read::wanted_targets(set)) {
    const auto slash = target.find('/');
    const auto fact = store.current("", target.substr(0, slash), target.substr(slash + 1));
    if (fact.has_value() && *fact && !(*fact)->deleted) held.push_back(std::move(target));
  }
  return held;
}

OneByOne one_by_one(const std::vector<std::string>& asked, const SearchResult& result, const WaysToAsk& ways) {
  OneByOne outcome;
  std::set<std::string> answered;
  for (const Found& found : result.found) {
    const std::string reference = found.event.resource_type + "/" + found.event.resource_id;
    answered.insert(reference);
    if (found.event.method == "DELETE") ++outcome.deleted;
    else if (found.in_error) continue;  // that searches leave such out is usual; it has been read now
    else if (ways.complete(found.event.resource_type)) outcome.hidden.push_back(reference);
  }
  if (result.whole) outcome.absent = asked.size() - std::min(asked.size(), answered.size());
  return outcome;
}

}  // namespace app
