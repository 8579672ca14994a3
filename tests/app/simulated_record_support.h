// A record that takes Subscriptions and pushes, and a daemon before it, in one thread on virtual time: what the record does is in the test's hands.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "app/engine.h"
#include "app/simulated_support.h"
#include "json/tree.h"

namespace app_test {

/// Timers that fire when the test lets time pass, in the order of their instants.
struct VirtualTimers final : transport::Timers {
  transport::TimerId after(std::chrono::nanoseconds real_time, std::function<void()> then) override;
  void cancel(transport::TimerId timer) override;
  /// The earliest due by `until` is taken out; none: empty.
  std::function<void()> take_due(std::chrono::nanoseconds until);
  std::chrono::nanoseconds now{0};
  std::map<std::pair<std::chrono::nanoseconds, std::uint64_t>, std::function<void()>> waiting;
  std::uint64_t last = 0;
};

/// Runs as many pieces as wanted.
struct StepExecutor final : app::Executor {
  void post(std::function<void()> work) override { queue.push_back(std::move(work)); }
  bool step();
  std::deque<std::function<void()>> queue;
};

/// The machine's clock: runs with the timers, and can be set wrong. A plan clock never goes back.
struct JumpingClock final : app::PlanClock {
  JumpingClock(VirtualTimers& timers, app::Millis start, app::Millis not_before) : timers_(timers), start_(start), last_(not_before) {}
  app::Millis now() override;
  std::optional<std::chrono::nanoseconds> real_time_until(app::Millis at) override { return std::chrono::milliseconds{std::max<app::Millis>(0, at - now())}; }
  bool move_to(app::Millis) override { return false; }
  bool rehearsal() const override { return false; }
  app::Millis offset = 0;

 private:
  VirtualTimers& timers_;
  app::Millis start_, last_;
};

/// Keeps resources by "Type/id". Its clock is its own.
struct FakeRecord final : transport::Network {
  explicit FakeRecord(app::Millis start) : clock(start) {}
  void send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) override;
  transport::Outcome answer(const transport::OutgoingRequest& request);

  // What the test sets.
  bool down = false;                 ///< nobody answers
  int lost_answers = 0;              ///< so many writes are done and not answered
  bool activates = true;             ///< a Subscription that is requested becomes active
  bool takes_subscriptions = true, can_delete = true, has_status = true, has_type_status = true, has_events = true, searches_by_tag = true;
  std::string fhir_version = "4.0.1";
  app::Millis longest_life = 0;      ///< of a Subscription: a later end is brought forward; 0: as asked for
  bool keeps_extensions = true;      ///< of a Subscription's channel
  std::set<std::string> hides_changed;  ///< types of which a search by _lastUpdated finds nothing
  std::map<std::string, int> answers;   ///< by path: answered with this status and an OperationOutcome
  std::set<std::string> hides_dated;    ///< types of which a search by clinical date finds nothing
  std::set<std::string> overlooks_patient;  ///< types of which a search by patient shows everybody's
  bool has_subject_index = false;    ///< changed Procedures are searched for patient by patient only
  std::set<std::string> wants_category;  ///< types of which a search without a category is refused (400)
  std::set<std::string> never_found;    ///< "Type/id" that no search shows, though it can be read
  std::set<std::string> keeps_back;  ///< types of which its searches by patient say that something is suppressed
  bool by_topic = false;
  app::Millis clock;

  // What the test looks at.
  std::map<std::string, json::Value> resources;
  std::vector<std::string> log;      ///< "GET Procedure?..."
  std::size_t count(const std::string& start_of_line) const;
  std::vector<json::Value> subscriptions() const;
  void put(const std::string& text);

  /// Numbered events of a Subscription, as $status and $events tell of them: "Procedure/p1".
  std::map<std::string, std::vector<std::string>> events;

  app::Executor* executor = nullptr;

 private:
  transport::Response respond(int status, const json::Value& body) const;
  transport::Response search(const std::string& path) const;
  transport::Response write(const transport::OutgoingRequest&, const std::string& path);
  transport::Response operation(const std::string& path) const;
  json::Value notice(const std::string& id, const std::string& type, std::int64_t first, std::int64_t last) const;
  int made_ = 0;
};

/// A daemon over a store in `folder` and before a record. Destroying it is a SIGKILL.
class SubscribedDaemon {
 public:
  SubscribedDaemon(const std::string& folder, FakeRecord& record, app::Millis at, const std::function<void(profile::Configuration&)>& configure = {});
  ~SubscribedDaemon();

  void run();                                    ///< all that can be done now
  void pass(std::chrono::seconds time);          ///< with all timers in between
  transport::Response call(const json::Value& subscription, const std::string& method, const std::string& below, const std::string& body, bool with_secret = true);
  /// A notification of the R4 backport about one event, as the record would push it.
  int push(const json::Value& subscription, std::int64_t number, const std::string& focus, const std::string& type = "event-notification");
  report::Status::Subscription status_of(const std::string& subject);
  bool holds(const std::string& type, const std::string& id);
  bool alarmed(const std::string& words);

  VirtualTimers timers;
  StepExecutor executor;
  SeededRandom random;
  MemoryChart chart;
  app::Rules rules;
  std::unique_ptr<store::Store> store;
  std::unique_ptr<JumpingClock> clock;
  std::unique_ptr<app::Engine> engine;
  transport::Handler intake;
  std::string fatal;
};

}  // namespace app_test
