// What is kept of a Subscription when it is heard: which of the record's events are missing, and whether it has begun to count anew. Arithmetic alone.
//
// The record numbers the events of a Subscription 1, 2, 3 ... and says with each notification how many there were so far, delivered or not. A number that is
// left out is missing until it comes late or is fetched. A number below the last one is late (it was missing), a repeat (same time and focus as before), or
// the sign of a counter that began anew: then nothing of the old numbers holds, and everything that may have changed has to be asked for. Another event
// under a number that was heard, or a handshake, is a sure sign; a number too old to be remembered, or a count that is lower once, may have been overtaken on the
// way, and counts when it is seen again.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "fhir_read/notification.h"
#include "store/subscription.h"

namespace app {

/// One call of a hook of ours, or an answer about it that we asked for.
struct Heard {
  std::string name;                         ///< of the hook
  bool asked = false;                       ///< $status or $events: says nothing of whether calls reach us
  std::string type = {}, status = {}, subscription_id = {};  ///< of a notification with numbers; else empty
  std::optional<std::int64_t> since_start = {};
  struct Number {
    std::int64_t n = 0;
    std::string print;                      ///< of its time and focus: the same again is a repeat
  };
  std::vector<Number> numbers = {};
  std::vector<std::string> errors = {};
};
Heard heard_of(const std::string& name, const fhir_read::Notice&);

struct Hearing {
  bool gap_opened = false, epoch_opened = false;
  bool misrouted = false;                   ///< it speaks for another Subscription: its numbers count for nothing here
};
/// What may be the beginning of a new count, until it is seen again. Of one Subscription, in memory.
struct Fall {
  std::int64_t low = -1;                    ///< the lower number; -1: none
};
Hearing hear(store::Subscription& row, const Heard&, store::Millis now, Fall&);

using Range = std::pair<std::int64_t, std::int64_t>;  ///< both ends inclusive
std::vector<Range> gaps_of(const store::Subscription&);   ///< rising, apart from each other
/// Numbers up to and with `last` need not be waited for any more: what they were about has been asked for.
void close_gaps(store::Subscription& row, std::int64_t last);

}  // namespace app
