#pragma once

#include <string>

#include "store/error.h"

namespace store {

// A Subscription of ours at the record, and what has been heard of it. Texts whose shape is not said here are the caller's own.
struct Subscription {
  std::string name;            // last part of the address that it calls here; never used twice
  std::string subject;         // what it is about
  std::string form;
  std::string secret;          // that every call of it carries
  std::string server_id;       // empty: not known, or not there
  std::string state;
  std::string reason;          // of the state, for people
  Millis created_at = 0;
  Millis ends_at = 0;          // record's clock; 0: without an end
  Millis heard_at = 0;         // 0: never
  std::int64_t notices = 0;    // calls so far
  std::int64_t epoch = 1;      // rises when the record begins to count anew
  std::int64_t last_number = -1;  // of its events in this epoch; -1: not known
  std::int64_t gaps_opened = 0;
  std::string gaps;            // event numbers that are missing
  std::string recent;          // event numbers that were heard last
};

}  // namespace store
