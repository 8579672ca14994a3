// Where Tasks and CarePlans are served here, documents and messages go their own way to the record: what happens to one does not hold up the others. A
// lane is the case key under which its writes are queued.
#pragma once

#include <string>
#include <string_view>

#include "app/rules.h"

namespace app {

/// Tasks, CarePlans and what belongs to them are served by ourselves, the record takes documents only.
inline bool serves(const Rules& rules) { return rules.configuration.record && rules.configuration.record->writing == "documents"; }

inline constexpr std::string_view kDocuments = "|documents", kMessages = "|messages";

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
