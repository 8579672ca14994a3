// /status and the ledgers as JSON.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "json/tree.h"

namespace report {

struct EventCounts {
  std::int64_t received = 0, applied = 0, irrelevant = 0, pending = 0, dead = 0, quarantined = 0, discarded = 0;
};
struct WriteCounts {
  std::int64_t queued = 0, delivered = 0, superseded = 0, pending = 0, dead = 0, held = 0;
};

struct Status {
  std::string version, installation;
  std::string now;                          ///< plan clock, RFC 3339
  bool rehearsal = false;
  bool ready = false;
  std::vector<std::string> not_ready;       ///< why, for people
  std::string protocol_id, protocol_version, protocol_sha256;
  bool protocol_approved = false;
  std::string record;                       ///< base URL, or "none (chart folder)"
  std::string mode;                         ///< "files", "live", "shadow"
  json::Value probed;                       ///< what the last probe found; null: none was made
  std::string writing;                      ///< how it can be written to, and what that costs; empty without a record
  struct Access {
    std::string kind;                       ///< how the record lets us in; empty without a record
    std::string trouble;                    ///< why not; empty: it does, as far as is known
    std::vector<std::string> not_granted;   ///< scopes asked for and not given
    std::int64_t valid_seconds = -1;        ///< of the token in use; -1: not known
    std::optional<std::int64_t> certificate_seconds;  ///< until our own certificate ends; none: none is shown
  } access;
  struct Pace {
    double per_second = 0;                  ///< requests to the record, as it stands now
    std::int64_t parallel = 0, waiting = 0;
    std::string resting;                    ///< why none is sent just now; empty: they are
  } pace;
  std::int64_t refused_senders = 0;         ///< requests at the intake without a proof, since the start
  /// How the record is asked for what nobody sent; as of the last round.
  struct Looking {
    std::string procedures;                 ///< "changed", "roster", "only when sent"; empty without a record
    std::int64_t roster_patients = -1;      ///< on the roster; -1: none is read
    std::string last_whole;                 ///< end of the last round in which everything was answered, UTC; empty: none since the start
    std::int64_t whole_age_seconds = -1;    ///< since then; -1: none since the start
    std::int64_t waiting = 0;               ///< single resources still to be read
    std::int64_t round_seconds = -1;        ///< how long the last round took; -1: none has ended
    std::vector<std::string> ways;          ///< what is asked for otherwise than by _lastUpdated: "Observation by category"
    std::vector<std::string> histories;     ///< types whose deletions are heard of by their history; of others at night
    std::vector<std::string> lost;          ///< what the record does not let us search for: "Condition", "Observation of category survey"
    struct Compared {                       ///< the last nightly comparison since the start
      std::string day;                      ///< local date; empty: none yet
      std::int64_t patients = 0, facts = 0; ///< looked at; found in the record
      std::int64_t missed = 0;              ///< of these, neither sent nor asked for before
      std::int64_t deleted = 0, absent = 0, hidden = 0;  ///< held, and by the record: deleted (410), not known (404), there but not shown by its searches
      std::int64_t not_whole = 0;           ///< patients for whom it did not answer to the end
    } compared;
  } looking;
  std::optional<std::int64_t> certificate_seconds;  ///< until the intake's certificate ends; none without TLS
  EventCounts events;
  WriteCounts writes, shadow_writes;
  std::optional<std::int64_t> oldest_event_seconds, oldest_write_seconds;  ///< age of the oldest pending item
  std::optional<std::string> next_wake;     ///< earliest instant a plan changes by itself
  std::int64_t open_cases = 0;
  std::int64_t held_tasks = 0;  ///< routine Tasks over the limit of an hour
  std::int64_t quarantine_kept = 0, quarantine_dropped = 0;
  struct Unmapped { std::string what; std::int64_t count = 0; };
  std::vector<Unmapped> unmapped;           ///< codes seen and not understood, by count
  struct Printing {
    std::int64_t ordered = 0, waiting = 0, at_printer = 0, printed = 0, superseded = 0, asked = 0, by_hand = 0;  ///< ordered: the sum of the others
    struct Printer { std::string name, address, state; };  ///< "not asked yet", "well", or what is wrong, as last heard
    std::vector<Printer> printers;
    struct Order {
      std::string case_key;
      std::int64_t sheet = 0;
      bool is_void = false;
      std::string state, printer, reason;   ///< printer: name of the last; empty: none yet
      bool person_asked = false;
    };
    std::vector<Order> open;                ///< not ended, by age
  };
  std::optional<Printing> printing;         ///< none: nothing is printed here
  /// Our own Subscriptions at the record. Instants RFC 3339; empty: never, or none.
  struct Subscription {
    std::string subject, name, id, state, reason;  ///< id: at the record; empty: none yet
    std::string last_heard, ends;
    std::int64_t heard_seconds = -1;        ///< since last_heard; -1: never
    std::int64_t notices = 0;               ///< calls so far
    std::int64_t epoch = 1, last_number = -1;
    std::int64_t gaps_opened = 0, gaps_open = 0;
  };
  struct Subscriptions {
    std::string form;                       ///< "none", "plain", "backport", "r5"; "auto" while the record has not been asked
    std::string why_none;                   ///< for people; empty: there are some
    std::vector<Subscription> list;
  };
  std::optional<Subscriptions> subscriptions;  ///< none: without a record
  std::vector<std::string> alarms;          ///< what an operator must look at
};

json::Value status_json(const Status&);

}  // namespace report
