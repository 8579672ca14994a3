// Asks the record for facts, so that nothing depends on being told: index Procedures that changed, everything about each patient of an open case, and
// what those facts refer to. A round comes after a start, every record.look_seconds, and when a sender says "look again". What is held already is left out.
//
// Marks: of Procedures the record's own clock (its Date header, less a horizon), kept in the store and moved only when every page was answered and is
// durable; of a patient the same in memory only, so that each patient is read whole once after a start. Runs on the executor.
#pragma once

#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "app/alarms.h"
#include "app/log.h"
#include "app/record_search.h"
#include "app/rules.h"
#include "app/seams.h"
#include "transport/timers.h"

namespace app {

struct LookParts {
  store::Store& store;
  PlanClock& clock;
  Executor& executor;
  transport::Timers& timers;
  RecordGet get;
  const Rules& rules;
  Log& log;
  Alarms& alarms;
  /// Journals; `done` on the executor, true when durable.
  std::function<void(std::vector<store::NewEvent>, std::function<void(bool durable)> done)> submit;
  /// Nothing is being asked any more.
  std::function<void()> rested;
};

class Looking {
 public:
  explicit Looking(LookParts);
  ~Looking();

  /// A round now, or one more after the one under way.
  void round();
  /// Everything about one patient, soon: a case has opened.
  void look_at(const std::string& patient);
  /// Single resources, "Type/id"; each is asked for once between two rounds, but for those that somebody told us to look at.
  void fetch(const std::vector<std::string>& references, bool told = false);
  bool busy() const { return running_ || !patients_.empty() || !single_.empty() || round_wanted_; }

 private:
  void next();
  void begin_round();
  void look_at_procedures(const std::string& since);
  void first_mark();
  void look_at_next_patient();
  void fetch_singles();
  RecordSearch search_about(const std::string& patient) const;
  void take_refusals(const SearchResult&);
  void take(SearchResult, const char* what, std::function<void(bool whole)> then);
  bool held(const Found&);
  void ended(bool whole);
  void rest_until_next();

  LookParts parts_;
  bool running_ = false;
  bool round_wanted_ = false;
  bool round_whole_ = true;
  bool in_round_ = false;
  std::set<std::string> patients_;               ///< still to be looked at
  std::set<std::string> single_, asked_;
  std::map<std::string, std::string> marks_;     ///< by patient
  std::set<std::string> no_last_updated_, refused_;  ///< types
  int rounds_ = 0;
  transport::TimerId timer_{};
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

/// "Wed, 25 Nov 2026 03:05:17 GMT" as "2026-11-25T03:05:17Z", moved by so many seconds; empty where it is no such date.
std::string instant_of_date_header(const std::string& date, int seconds);

}  // namespace app
