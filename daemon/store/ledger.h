#pragma once

#include <cstdint>
#include <string>

#include "store/event.h"

namespace store {

// Totals since the store was made; shortening the journal does not lower them.
// received = applied + irrelevant + pending + dead, always.
struct EventLedger {
  std::int64_t received = 0;
  std::int64_t applied = 0;
  std::int64_t irrelevant = 0;
  std::int64_t pending = 0;
  std::int64_t dead = 0;  // among them quarantined and discarded

  std::int64_t quarantined = 0;
  std::int64_t discarded = 0;

  [[nodiscard]] bool closes() const { return received == applied + irrelevant + pending + dead; }
};

// queued = delivered + superseded + pending + dead, always. `queued` is everything ever queued.
struct WriteLedger {
  std::int64_t queued = 0;
  std::int64_t delivered = 0;
  std::int64_t superseded = 0;
  std::int64_t pending = 0;  // waiting + sent + verify + held
  std::int64_t dead = 0;     // among them discarded

  std::int64_t waiting = 0;  // in state queued
  std::int64_t sent = 0;
  std::int64_t verify = 0;
  std::int64_t held = 0;
  std::int64_t discarded = 0;

  [[nodiscard]] bool closes() const { return queued == delivered + superseded + pending + dead; }
};

// A body kept aside because it could not be interpreted.
struct Quarantined {
  std::int64_t id = 0;  // given by the store
  EventId event_id = 0;
  Millis at = 0;
  std::string source;
  std::string reason;
  std::string body;
};

struct QuarantineCounts {
  std::int64_t kept = 0;
  std::int64_t kept_bytes = 0;
  std::int64_t dropped = 0;  // pushed out by newer ones, since the store was made
  std::int64_t dropped_bytes = 0;
};

}  // namespace store
