#include "profile/subscription_keys.h"

#include <fmt/format.h>

#include <algorithm>

#include "profile/address.h"

namespace profile {
namespace {

/// "status" among the parameters of "Task?status=requested&code=x", also as "status:not" and "_has"-free chains.
bool names_status(std::string_view criteria) {
  for (auto rest = criteria.substr(std::min(criteria.find('?'), criteria.size() - 1) + 1); !rest.empty();) {
    const auto one = rest.substr(0, rest.find('&'));
    const auto name = one.substr(0, one.find_first_of("=:"));
    if (name == "status" || name.ends_with("-status")) return true;
    rest.remove_prefix(std::min(rest.size(), one.size() + 1));
  }
  return false;
}

bool names_type(std::string_view criteria) {
  const auto type = criteria.substr(0, criteria.find('?'));
  return criteria.find('?') != std::string_view::npos && !type.empty() && type.front() >= 'A' && type.front() <= 'Z' &&
         std::ranges::all_of(type, [](char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); });
}

}  // namespace

std::vector<std::string> parts_of(std::string_view text) {
  std::vector<std::string> parts;
  while (!text.empty()) {
    auto part = text.substr(0, text.find(';'));
    text.remove_prefix(std::min(text.size(), part.size() + 1));
    while (!part.empty() && part.front() == ' ') part.remove_prefix(1);
    while (!part.empty() && part.back() == ' ') part.remove_suffix(1);
    if (!part.empty()) parts.emplace_back(part);
  }
  return parts;
}

void read_subscriptions(const std::function<Place(std::string_view name)>& place_of, Configuration& into, Faults& faults) {
  auto& subscriptions = into.subscriptions;
  if (subscriptions.form == "none") return;
  const auto fault = [&](const char* name, const std::string& what, const std::string& remedy) { faults.add(place_of(name), what, remedy); };
  if (!into.record) return fault("subscriptions.form", "'subscriptions.form' without a record", "name a record in [record], or leave [subscriptions] out");
  while (subscriptions.endpoint.ends_with('/')) subscriptions.endpoint.pop_back();
  if (const auto url = parse_base_url(subscriptions.endpoint); !url || (!url->https && !is_loopback(url->host)))
    fault("subscriptions.endpoint", fmt::format("'subscriptions.endpoint' is \"{}\", no https address at which the record could reach us", subscriptions.endpoint),
          "write https://this.host/fhir as the record sees it");
  const bool by_topic = subscriptions.form == "backport" || subscriptions.form == "r5";
  if (by_topic && subscriptions.topics.empty()) fault("subscriptions.form", fmt::format("'subscriptions.form' is \"{}\" and 'subscriptions.topics' is missing", subscriptions.form), "name the record's topics");
  if (subscriptions.form == "plain" && subscriptions.payload == "id-only")
    fault("subscriptions.payload", "'subscriptions.payload' is \"id-only\", which plain Subscriptions do not know", "write full-resource or empty");
  if (!by_topic && subscriptions.criteria.empty()) fault("subscriptions.criteria", "'subscriptions.criteria' is empty", "write a search, as Procedure?");
  for (const std::string& criteria : subscriptions.criteria) {
    if (!names_type(criteria)) fault("subscriptions.criteria", fmt::format("'subscriptions.criteria' has \"{}\", no search", criteria), "write Type?parameter=value, or Type? alone");
    else if (names_status(criteria))
      fault("subscriptions.criteria", fmt::format("'subscriptions.criteria' has \"{}\": nothing would be told of what leaves that status", criteria), "leave the status out");
  }
  if (into.record->source.empty()) into.record->source = "record";
}

}  // namespace profile
