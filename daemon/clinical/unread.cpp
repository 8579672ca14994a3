#include "clinical/unread.h"

#include <algorithm>
#include <array>
#include <string_view>

namespace clinical {
namespace {

constexpr const char* kTime = "time";

std::string name_of_part(std::string_view what) { return "finding." + std::string(finding_term(what)); }

}  // namespace

std::string_view finding_term(std::string_view what) {
  constexpr std::array<std::string_view, 20> known{"bleeding", "swelling", "growth", "foot-pulse", "wet-dressing", "mass-or-bruit", "skin-damage", "back-pain", "colour", "warmth", "feeling",
                                                   "movement", "pain", "chest-pain", "neurological-sign", "dizziness", "voided", "bladder-volume", "time", "note"};
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

bool time_unknown(const SiteCheck& check) {
  return !check.at || std::ranges::any_of(check.unread, [](const UnreadPart& part) { return part.what == kTime; });
}

SiteCheck of_unknown_time(SiteCheck check) {
  if (check.bleeding == Bleeding::none) check.bleeding.reset();
  if (check.swelling && check.swelling->exact() && check.swelling->micro == 0) check.swelling.reset();
  for (auto* pulse : {&check.foot_pulse, &check.colour, &check.warmth, &check.feeling, &check.movement})
    if (*pulse == FootPulse::as_baseline) pulse->reset();
  for (auto* flag : {&check.growth, &check.chest_pain, &check.neurological_sign, &check.mass_or_bruit, &check.skin_damage, &check.dizziness})
    if (*flag == false) flag->reset();
  if (check.voided == true) check.voided.reset();
  for (const auto& [value, what] : {std::pair(&check.pain, "pain"), std::pair(&check.bladder, "bladder-volume")}) {
    if (*value) check.unread.push_back({what, (*value)->written});  // whether it is bad is for whoever looks
    value->reset();
  }
  check.baseline_pulses.clear();
  if (std::ranges::none_of(check.unread, [](const UnreadPart& part) { return part.what == kTime; })) check.unread.push_back({kTime, check.source.reference});
  return check;
}

const SiteCheck* unread_check(const std::vector<SiteCheck>& by_time) {
  const SiteCheck* newest = nullptr;
  for (const auto& check : by_time)
    if (!check.unread.empty()) newest = &check;
  const auto replaces = [&](const SiteCheck& later) { return later.complete() && later.at->earliest > newest->at->latest; };
  return newest && std::ranges::none_of(by_time, replaces) ? newest : nullptr;
}

}  // namespace clinical
