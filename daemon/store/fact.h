#pragma once

#include "store/event.h"

namespace store {

// The version of a resource that counts now. `source` keeps equal ids of two servers apart.
struct CurrentFact {
  std::string source;
  std::string type;
  std::string id;
  std::string version_id;
  std::string last_updated;  // text as written by the server, may be empty
  std::string body;          // empty in a tombstone
  bool deleted = false;      // tombstone: was here, is withdrawn
  std::string patient;       // "Patient/a"; empty: belongs to no patient (a Medication, a Device)
  EventId event_id = 0;      // the event that brought it
  std::string content_hash;
};

// Names a current fact without its body.
struct FactKey {
  std::string source;
  std::string type;
  std::string id;
  std::string patient;
};

}  // namespace store
