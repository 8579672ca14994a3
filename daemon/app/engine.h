// The daemon's heart, without threads or sockets of its own: takes events in, keeps plans right, hands writes out.
// Everything except submit() and post-backs runs on the executor, one piece at a time; the store is touched nowhere else.
#pragma once

#include <atomic>
#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <vector>

#include "app/alarms.h"
#include "app/deliver.h"
#include "app/evaluate.h"
#include "app/hooks.h"
#include "app/log.h"
#include "app/ours.h"
#include "app/side_threads.h"
#include "app/paced_look.h"
#include "app/routed_network.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/served.h"
#include "app/subscription_hearing.h"
#include "app/unmapped.h"
#include "report/status.h"
#include "store/store.h"
#include "transport/network.h"
#include "transport/timers.h"

namespace app {

struct EngineParts {
  store::Store& store;
  PlanClock& clock;
  Executor& executor;
  transport::Timers& timers;
  RandomSource& random;
  transport::Network* network = nullptr;  ///< with a record
  ChartDisk* chart = nullptr;             ///< without one
  const Rules& rules;
  Log& log;
  std::function<void(report::Status&)> more_status = {};  ///< adds what the engine does not know: how the record lets us in, the intake's certificate
  std::function<bool()> disk_is_low = {};  ///< from any thread; none: never
  SideThreads* print = nullptr;          ///< where printing is configured
};

/// What one HTTP request brings: all of it is journalled in one commit, or none.
struct Submission {
  std::vector<store::NewEvent> events;             ///< received_at is filled in by the engine
  std::vector<store::Quarantined> aside;           ///< bodies that are no resource: kept for inspection
  std::vector<Heard> heard = {};                   ///< of our own Subscriptions, counted in that same commit
  std::function<void(bool durable, bool full)> done = {};  ///< on the executor, after the commit; full: no room, try again later
};

class Looking;
class Printing;
class RecordSide;
class Subscriptions;

class Engine {
 public:
  explicit Engine(EngineParts parts);
  ~Engine();

  /// First call: takes up what a stop left behind, evaluates overdue cases once. `fatal` is called (once, on the executor) when the store has failed.
  void start(std::function<void(const std::string&)> fatal);
  /// From any thread. Everything waiting is committed together.
  void submit(Submission submission);
  /// From any thread: why nothing more can be taken just now; empty: it can.
  std::string crowded() const;
  /// Rehearsal: moves the clock to `to`, stopping at each instant at which a plan changes; `done` when all is settled and delivered.
  void move_clock(Millis to, std::function<void()> done);
  /// On the executor: asks the record for everything that may have changed; `done` when all is settled and delivered. Nothing without a record.
  void look_again(std::function<void()> done);
  /// Addresses and secrets of our own Subscriptions; from any thread.
  const Hooks& hooks() const { return hooks_; }
  /// On the executor: somebody's request to what is served here; `path` below /fhir, with its query. See Served::to_others().
  transport::Response serve(const ServedRequest&);
  bool serves_task(const std::string& id) { return served_ && served_->holds("Task", id); }
  /// On the executor.
  report::Status status();
  /// On the executor.
  store::Result<std::string> explain(const PatientKey& patient, const std::string& procedure) {
    return evaluator_->explain(patient, procedure, parts_.clock.now());
  }
  /// On the executor: lines after number `after`, oldest first, with their numbers; a bounded number is kept.
  std::vector<std::pair<std::int64_t, std::string>> news_after(std::int64_t after) const;
  /// `done` (on the executor) when no event is pending and no write can be tried now.
  void when_idle(std::function<void()> done);
  void stop() { stopping_ = true; }

 private:
  struct News {
    std::int64_t n;
    std::string text;
  };
  DeliverHooks deliver_hooks();
  void serve_here();
  void follow_mode();
  void play_in_shadow();
  bool take_in_shadow(const store::Write&);
  void drain();
  bool journal(const std::vector<store::NewEvent>&, const std::deque<Submission>&, Millis now, bool& full, std::vector<std::pair<Heard, Hearing>>& heard);
  void after_work();
  void settle();
  void settle_batch(const std::vector<store::Event>& batch);
  void commit(const std::set<PatientKey>&, const std::vector<Ending>&, const std::string& trigger, const std::vector<store::Event>& batch);
  static store::Result<void> settle_one(store::Store&, const Ending&, const std::vector<store::Event>& batch, Millis now);
  static store::Result<void> keep(store::Store&, const CaseWork&, const std::string& trigger, Millis now);
  void tell(const Evaluation&, Millis now);
  void settle_alarms(const CaseWork&);  ///< what no longer holds, and Tasks that wait
  std::unique_ptr<Looking> make_looking();
  std::unique_ptr<Printing> make_printing();
  std::unique_ptr<Subscriptions> make_subscriptions();
  bool asking() const;  ///< the record is being asked for something
  void take_back_what_is_done(const Evaluation&);
  void look_for(const Evaluation&);
  void look_again_for(const store::Event&, std::vector<std::string>& told);
  void again(const std::string& key, const std::string& trigger);
  void conflict(const store::Write&, int in_a_row, bool partly);
  void held(const store::Write&, const Leave&);
  void search(const std::string& key);
  void search_what_is_unknown();
  void searched(const std::string& key, bool whole);
  store::Result<void> change_row(const std::string& key, const std::function<void(store::Case&)>& change);
  void wake();
  void arm();
  void step_clock();
  bool check(const store::Error&, const char* doing);  ///< always true: there is an error
  template <class T>
  bool failed(const store::Result<T>& result, const char* doing) {
    return result.has_error() && check(result.error(), doing);
  }

  EngineParts parts_;
  std::unique_ptr<Evaluator> evaluator_;
  Ours ours_;
  std::unique_ptr<Served> served_;         ///< null without a record
  std::set<std::string> in_shadow_;        ///< cases whose shadow writes wait to be taken as if the record had answered
  std::unique_ptr<RoutedNetwork> routed_;  ///< null where the record takes Tasks and CarePlans
  std::unique_ptr<RecordSide> record_;  ///< null without a record
  std::unique_ptr<Looking> looking_;    ///< the same
  std::unique_ptr<PacedLook> paced_;    ///< the same
  Hooks hooks_;
  std::unique_ptr<Subscriptions> subscriptions_;  ///< the same
  std::unique_ptr<Deliverer> deliverer_;
  std::unique_ptr<Printing> printing_;  ///< null where nothing is printed
  std::function<void(const std::string&)> fatal_;
  std::mutex mutex_;  ///< of the two below
  std::deque<Submission> waiting_;
  bool drain_posted_ = false;
  bool settle_posted_ = false;
  bool failed_ = false;
  std::atomic<bool> stopping_ = false;
  std::atomic<std::int64_t> pending_ = 0;
  std::int64_t high_water_;
  transport::TimerId timer_{};
  std::vector<std::function<void()>> idle_waiters_;
  std::vector<std::function<void()>> when_settled_;  ///< once no event is pending
  std::set<std::string> searching_;                  ///< cases whose items are being asked for
  std::map<std::string, transport::TimerId> search_again_;
  std::map<std::string, std::int64_t> held_tasks_;   ///< by case: Tasks that wait for their turn
  std::optional<Millis> clock_target_;
  std::function<void()> clock_done_;
  std::deque<News> news_;
  std::int64_t news_count_ = 0;
  Unmapped unmapped_;  ///< seen since the start
  Alarms alarms_;
};

}  // namespace app
