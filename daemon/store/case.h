#pragma once

#include <optional>
#include <string>

#include "store/error.h"

namespace store {

// What is kept of a case. The texts are the caller's: the store reads none of them.
struct Case {
  std::string key;      // unique
  std::string patient;  // "Patient/a"
  std::string source;
  std::string plan;
  std::string plan_hash;
  std::string written_view;
  Millis as_of = 0;
  std::optional<Millis> wake_at;  // none: only a new fact moves it
  std::string state;
  bool open = true;                    // listed by open_case_keys()
  std::int64_t transaction_count = 0;  // last n of transaction-<n>; 0: none yet
  std::int64_t sheet_count = 0;        // last n of sheet-<n>
  std::string care_plan_id;            // server id; empty: not created
  std::string care_plan_etag;
  std::string extra;  // free for the caller
};

// One thing written, or to be written, for a case: what we want it to be and what the server confirmed.
struct Item {
  std::string identity;  // UUID, unique
  std::string case_key;
  std::string type;  // resource type
  std::string step;  // step code, may be empty
  std::int64_t ordinal = 0;
  std::string window;  // free for the caller
  std::string intended_hash;
  std::string intended_status;
  std::string server_id;  // empty: not confirmed; else unique within its type
  std::string etag;
  std::string status;    // as the server has it
  bool claimed = false;  // somebody else has changed it: never rewritten
  std::string body;      // as intended
  std::string extra;
};

// One computation of a plan, kept so that it can be repeated.
struct Evaluation {
  std::int64_t id = 0;  // given by the store, rising
  std::string case_key;
  Millis now = 0;
  std::string trigger;
  std::string plan_hash;
};

}  // namespace store
