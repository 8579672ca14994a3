// Where Tasks and CarePlans are served here, documents and messages go their own way to the record: what happens to one does not hold up the others. A
// lane is the case key under which its writes are queued.
#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

#include "app/rules.h"

namespace app {

/// Tasks, CarePlans and what belongs to them are served by ourselves, the record takes documents only.
inline bool serves(const Rules& rules) { return rules.configuration.record && rules.configuration.record->writing == "documents"; }

/// Everything is computed and kept, and nothing is sent.
inline bool in_shadow(const Rules& rules) { return rules.configuration.record && rules.configuration.record->mode == "shadow"; }

inline constexpr std::string_view kDocuments = "|documents", kMessages = "|messages";

/// Types of our writing that are served here, in place of the record: all of them, CarePlans and what belongs to them, or Tasks. Empty: none.
inline std::vector<std::string> types_served(const Rules& rules) {
  if (serves(rules)) return {"CarePlan", "DetectedIssue", "GuidanceResponse", "Provenance", "Task"};
  if (!rules.configuration.record) return {};
  const std::string& chosen = rules.configuration.record->serve;
  if (chosen == "care-plans") return {"CarePlan", "DetectedIssue", "GuidanceResponse", "Provenance"};
  return chosen == "tasks" ? std::vector<std::string>{"Task"} : std::vector<std::string>{};
}
inline bool is_served(const Rules& rules, std::string_view type) {
  const auto types = types_served(rules);
  return std::ranges::find(types, type) != types.end();
}
/// What can be read here: those, and clashes of orders that a record has refused.
inline bool is_read_here(const Rules& rules, std::string_view type) { return is_served(rules, type) || (rules.configuration.record && type == "DetectedIssue"); }
/// Some types are served here and the rest goes to the record, in one lane and step by step.
inline bool serves_a_part(const Rules& rules) { return !serves(rules) && !types_served(rules).empty(); }

/// WriteTarget::path of what is no document but word of one.
inline constexpr std::string_view kMessage = "Communication";

/// Sheets, and word that there is one: newer ones take the place of what has not left.
inline std::string documents_lane(const std::string& case_key) { return case_key + std::string(kDocuments); }
/// Calls and requests to stop: none gives way to another.
inline std::string messages_lane(const std::string& case_key) { return case_key + std::string(kMessages); }

/// To the record, while everything else of the case is served here.
inline bool is_side_lane(std::string_view key) { return key.ends_with(kDocuments) || key.ends_with(kMessages); }
/// The key of the case, of any lane.
inline std::string case_in(std::string key) {
  for (const auto lane : {kDocuments, kMessages})
    if (key.ends_with(lane)) key.resize(key.size() - lane.size());
  return key;
}

}  // namespace app
