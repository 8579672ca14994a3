#pragma once

#include <string>

#include "store/error.h"

namespace store {

using EventId = std::int64_t;  // rises in the order of arrival, starts at 1, never used twice

enum class EventState { pending, applied, irrelevant, dead };

// Only dead items carry a mark. A quarantined event may be retried, a discarded item never.
enum class Mark { none, quarantined, discarded };

struct NewEvent {
  Millis received_at = 0;
  std::string source;         // server or hook that sent it; empty: plain intake
  std::string method;         // as received: PUT, POST, DELETE
  std::string resource_type;  // empty where unknown
  std::string resource_id;
  std::string version_id;
  std::string body;  // as received
  std::string content_hash;
  std::string request_id;
};

struct Event : NewEvent {
  EventId id = 0;
  EventState state = EventState::pending;
  Mark mark = Mark::none;
  std::string reason;     // why irrelevant or dead; or the word given at a retry
  Millis settled_at = 0;  // 0 while pending
};

}  // namespace store
