// Asks the record for facts, so that nothing depends on being told: index Procedures that changed, everything about each patient of an open case, and
// what those facts refer to. Where the record shows the history of a type, it is asked for what was deleted. A round comes after a start, every record.look_seconds, and when a sender says "look again". What is held already is left out.
// Where changed Procedures cannot be searched for, the roster says whose Procedures are looked at, patient by patient. Once a day everything about the
// patients of open cases is compared with what is held (reconcile.h).
//
// Marks: of Procedures the record's own clock (its Date header, less a horizon), kept in the store and moved only when every page was answered and is
// durable; of a patient the same in memory only, so that each patient is read whole once after a start. Runs on the executor.
#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "app/alarms.h"
#include "app/log.h"
#include "app/record_search.h"
#include "app/roster.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/told.h"
#include "app/ways_to_ask.h"
#include "report/status.h"
#include "transport/timers.h"

namespace app {

struct LookParts {
  store::Store& store;
  PlanClock& clock;
  Executor& executor;
  transport::Timers& timers;
  RecordGet get;
  std::function<std::string()> why_no_answer;  ///< of the last request that got none: "record.example:443: connection refused"
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

  /// Takes up what an earlier run left unread.
  void start();
  /// A round now, or one more after the one under way. `then`: after its end, whether everything was answered and is durable.
  void round(std::function<void(bool whole)> then = {});
  /// Everything about one patient, soon: a case has opened.
  void look_at(const std::string& patient);
  /// Single resources, "Type/id"; each is asked for once between two rounds, but for those that are in doubt.
  void fetch(const std::vector<std::string>& references, bool in_doubt = false);
  /// The same of what senders only named: asked for until the record has shown it or said that it is gone.
  void told_of(const std::vector<std::string>& references);
  bool busy() const { return running_ || !patients_.empty() || !scope_.empty() || !single_.empty() || !histories_.empty() || round_wanted_ || roster_wanted_; }
  /// A Group or List that the roster is made of. `body`: as sent; empty where it was deleted.
  bool concerns_roster(const std::string& reference, const std::string& body) const { return roster_.is_source(reference, body); }
  report::Status::Looking status() const;

 private:
  static constexpr const char* kHistoryMark = "history of ";  ///< and a type: how far its history was read; empty: nothing is held that it could concern
  struct Purpose {
    bool whole = false;      ///< everything that matters, not only what has changed since the last look
    bool recheck = false;    ///< what is held and was not among it is read by itself
    bool compare = false;    ///< the nightly comparison
    bool caught_up = false;  ///< of a comparison: what has come since the last look was taken first
  };
  void next();
  void begin_round();
  void begin_asking();
  bool plan_comparison(const std::set<std::string>& patients);
  void look_at_procedures(const std::string& since);
  void first_mark();
  void read_roster();
  void look_at_next_in_scope();
  void look_at_next_patient();
  void compare(const std::string& patient, const SearchResult&, std::size_t missed, std::function<void()> then);
  bool had_to_be_shown(const std::string& type, const std::string& id) const;
  void comparison_ended();
  void fetch_singles();
  void took_singles(const std::vector<std::string>& asked, const SearchResult&);
  void ask_again_for_told(const std::set<std::string>& in_vain);
  void owe(const std::string& reference);
  void choose_rechecks(const std::set<std::string>& patients);
  void read_what_is_gone(const std::string& patient, const SearchResult&);
  void prove_dated(const std::string& patient, const SearchResult&, std::function<void()> then);
  void read_all_whole();
  void prove_procedures(std::function<void()> then);
  void prove_by_any_procedure(std::function<void()> then);
  bool is_settled(const std::string& changed, const std::string& date) const;
  void prove_by(const std::string& known, const std::string& at, const std::string& date, std::function<void()> then);
  void sweep_without_date(const std::string& patient, const SearchResult& dated, const std::string& since, std::function<void()> then);
  void note_bare(const std::string& patient, const SearchResult& without_date);
  std::string oldest_swept() const;
  void prove_sweep(const std::string& patient, const SearchResult&, std::function<void()> then);
  std::vector<std::string> procedures_of(const std::string& patient) const;
  void swept(const std::string& patient, bool whole);
  void look_at_next_history();
  void history_mark(const std::string& type);
  std::string history_mark_at(const std::string& date) const;
  void took_history(const std::string& type, const SearchResult&, bool held_anything);
  void start_comparison(const std::string& day, const std::set<std::string>& patients);
  std::set<std::string> open_patients() const;
  RecordSearch searching(std::vector<std::string> paths) const;
  using Taken = std::function<void(SearchResult, std::size_t fresh)>;
  void ask(RecordSearch, std::string name, Taken then);
  std::string oldest_asked_for() const;
  std::vector<std::string> paths_about(const std::string& patient, Purpose) const;
  bool take_refusals(WaysToAsk&, const SearchResult&, const std::string& patient);
  std::string mark_after(const SearchResult&) const;
  std::set<std::string> leave_out_strangers(std::vector<Found>&);
  bool are_one(const std::string& patient, const std::string& other) const;
  void journal(std::vector<Found>, std::vector<Found> notes, const std::string& name, std::function<void(bool durable, std::size_t fresh)> then);
  bool shown_again(const std::string& patient, const SearchResult&);
  bool held(const Found&);
  void ended(bool whole);
  void note_trouble(const SearchResult&);
  void compare_clocks(const std::string& date);
  void follow_merger(const std::string& body);
  void prove_changed(const std::string& patient, const SearchResult&, std::function<void()> then);
  void note_slowness();
  void rest_until_next();

  LookParts parts_;
  Roster roster_;
  bool version_known_ = false;  ///< of FHIR, that the record speaks
  WaysToAsk ways_{asked_about_patients()}, scope_ways_{asked_about_roster()};
  bool running_ = false;
  bool round_wanted_ = false, roster_wanted_ = false;
  int roster_turns_ = 0;                         ///< left before the next round may begin
  bool round_whole_ = true;
  bool in_round_ = false;
  bool procedures_refused_ = false, procedures_hidden_ = false;  ///< hidden: taken, and not shown
  std::map<std::string, Purpose> patients_;      ///< still to be looked at
  std::set<std::string> scope_;                  ///< of the roster, still to be looked at
  std::vector<std::function<void(bool)>> after_next_, after_this_;  ///< whom to tell of the end of a round
  std::set<std::string> single_, asked_;
  Told told_;
  struct InVain {
    int times = 0;                               ///< in a row that it was not shown
    transport::TimerId timer{};
  };
  std::map<std::string, InVain> in_vain_;        ///< of what was told, by "Type/id"
  std::set<std::string> owed_;                   ///< single ones without which this round is not over
  std::map<std::string, int> rechecked_;         ///< round in which a patient was read whole last
  std::multiset<std::string> silent_;                ///< types whose searches brought no answer in this round: left aside until the next
  std::map<std::string, int> sweeps_;            ///< times that somebody of the roster was asked about
  bool singles_had_their_turn_ = false;
  std::map<std::string, store::EventId> held_when_asked_;  ///< by "Type/id", of the single ones under way
  bool procedures_proved_ = false, sweep_proved_ = false;
  bool sweep_finds_ = false, anybody_had_one_ = false;  ///< a sweep by date has shown a Procedure; any has
  int tried_any_ = 0;                            ///< round in which the searches were proved without a case
  std::set<std::string> strangers_;              ///< types of which searches by patient have shown those of others
  std::map<std::string, int> others_read_;       ///< Patients that a search by patient has shown facts of beside the one asked for: round in which they were asked for
  std::set<std::string> bare_;                   ///< of the roster: the record shows not one Procedure, of no year
  std::set<std::string> unswept_;                ///< of the roster: not answered to the end when last asked
  std::set<std::string> histories_;              ///< types whose history is still to be asked for in this round
  std::set<std::string> no_history_;             ///< types of which the record shows none
  std::set<std::string> later_;                  ///< single ones that were not answered: asked for in the next round
  bool sorted_ = true;                           ///< the record takes _sort
  struct Mark {
    std::string changed;                         ///< of the record's clock
    Millis clinical = 0;                         ///< of ours: facts carry the time of the plan
    std::set<std::string> unanswered = {};       ///< types that were not: these are asked for whole
  };
  std::map<std::string, Mark> marks_;            ///< by patient
  std::string trouble_;                          ///< why something was not answered, in this round
  std::map<std::string, std::set<std::string>> withheld_;  ///< types that the record keeps from us, by patient
  std::set<std::string> proved_dated_;           ///< the same of searches by clinical date
  std::set<std::string> proved_;                 ///< types whose search by _lastUpdated has found what it must
  std::set<std::string> lost_;                   ///< what the record does not let us look for, as last said
  int tries_to_compare_ = 0;
  std::string comparing_;                        ///< day of the comparison under way; empty: none is
  report::Status::Looking status_;
  std::chrono::steady_clock::time_point round_began_{}, whole_at_ = std::chrono::steady_clock::now();
  int rounds_ = 0;
  transport::TimerId timer_{};
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

/// "Wed, 25 Nov 2026 03:05:17 GMT" as "2026-11-25T03:05:17Z", moved by so many seconds; empty where it is no such date.
std::string instant_of_date_header(const std::string& date, int seconds);

}  // namespace app
