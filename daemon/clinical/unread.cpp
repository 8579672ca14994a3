#include "clinical/unread.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace clinical {
namespace {

std::string name_of_part(std::string_view what) { return "finding." + std::string(finding_term(what)); }

}  // namespace

std::string_view finding_term(std::string_view what) {
  constexpr std::array<std::string_view, 18> known{"bleeding", "swelling", "growth", "foot-pulse", "wet-dressing", "mass-or-bruit", "skin-damage", "back-pain", "colour", "warmth", "feeling",
                                                   "movement", "pain", "chest-pain", "neurological-sign", "dizziness", "voided", "bladder-volume"};
  const auto found = std::ranges::find(known, what);
  return found == known.end() ? "other" : *found;
}

std::vector<std::pair<std::string, Argument>> unread_words(const SiteCheck& check) {
  std::vector<std::string> names;
  std::string what, said;
  for (const auto& part : check.unread) {
    said += (said.empty() ? "" : "; ") + part.said;
    if (std::ranges::find(names, name_of_part(part.what)) == names.end()) names.push_back(name_of_part(part.what));
  }
  for (const auto& name : names) what += (what.empty() ? "@" : ",") + name;
  return {{"at", when(*check.at)}, {"what", what}, {"said", said}};
}

const SiteCheck* unread_check(const std::vector<SiteCheck>& by_time) {
  const SiteCheck* newest = nullptr;
  for (const auto& check : by_time)
    if (!check.unread.empty()) newest = &check;
  const auto replaces = [&](const SiteCheck& later) { return later.complete() && later.at->earliest > newest->at->latest; };
  return newest && std::ranges::none_of(by_time, replaces) ? newest : nullptr;
}

}  // namespace clinical
