// Our own Subscriptions at the record, from wish to removal, and what is done when they are not heard as they should be.
//
// A row of the store is one Subscription under one address with one secret, there before the record is asked to make it: a stop at any point leaves a row
// whose Subscription is found again by our tag and its address. After every outage the order is: ask for what has changed, then the Subscription, then ask
// once more over the overlap. Nothing here is needed for a right plan: with every push lost the record is asked all the same.
//
// Ends are compared with the record's own clock (its Date header); waiting is real time. Runs on the executor, one request at a time.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "app/alarms.h"
#include "app/hooks.h"
#include "app/log.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/subscription_calls.h"
#include "app/subscription_form.h"
#include "app/subscription_hearing.h"
#include "fhir_write/subscription.h"
#include "report/status.h"
#include "store/store.h"
#include "transport/timers.h"

namespace app {

struct SubscriptionParts {
  store::Store& store;
  PlanClock& clock;
  Executor& executor;
  transport::Timers& timers;
  RecordSend send;
  const Rules& rules;
  Log& log;
  Alarms& alarms;
  Hooks& hooks;
  /// Asks the record for all that may have changed, from now on; `then` on the executor: whether everything was answered.
  std::function<void(std::function<void(bool whole)> then)> catch_up;
  /// Journals events and what was heard with them; `done` on the executor.
  std::function<void(std::vector<store::NewEvent>, std::vector<Heard>, std::function<void(bool durable)> done)> submit;
  std::function<void(const store::Error&, const char* doing)> store_failed;
  /// Nothing is being asked any more.
  std::function<void()> rested;
};

class Subscriptions {
 public:
  explicit Subscriptions(SubscriptionParts);
  ~Subscriptions();

  /// Asks for what has changed, then sees to the Subscriptions, again and again.
  void start();
  /// Inside the transaction that journals what came with it.
  store::Result<Hearing> take(store::Store&, const Heard&, Millis now);
  /// The same once that is durable.
  void taken(const Heard&, const Hearing&);
  bool busy() const { return running_ || !steps_.empty(); }
  report::Status::Subscriptions status();

 private:
  using Row = store::Subscription;
  using Done = std::function<void()>;
  using Step = std::function<void(Done)>;

  // The order of work: subscriptions.cpp
  void enqueue(Step);
  void enqueue_catch_up();
  void catch_up_first(std::function<void(bool whole)> then);
  void next();
  void rest();
  void round();
  void choose(const fhir_read::SubscriptionAbility&);

  // What stands against what should: subscriptions_decide.cpp
  void reconcile(SubscriptionCalls::List);
  void decide(Row, const SeenSubscription*, const SubscriptionCalls::List&);
  void see(Row, const SeenSubscription&);
  void see_active(Row, const SeenSubscription&);
  bool may_doubt_secret(const std::string& name) const;
  std::string otherwise(const Row&, const SeenSubscription&) const;
  void mend(Row, const SeenSubscription&, const std::string& what);
  void see_its_end(const Row&, const SeenSubscription&);
  void remove_strays(const SubscriptionCalls::List&, const std::set<std::string>& known);
  void add_row(const std::string& subject);

  // One Subscription: subscriptions_write.cpp
  void create(const std::string& name, Done);
  void take_created(const std::string& name, const SubscriptionCalls::Written&);
  void ask_again(const std::string& name, SeenSubscription, Done);
  void replace(Row, Done);
  void remove(const std::string& name, SeenSubscription, Done);
  void note_unknown(const std::string& name);
  fhir_write::SubscriptionWish wish(const Row&) const;

  // When it is not heard as it should be: subscriptions_recover.cpp
  void watch_heartbeat(const Row&);
  void missed(const std::string& name);
  void ask_how_far(Done);
  void wait_for_gap(const std::string& name);
  void fill(const std::string& name, int rounds, Done);
  void look_over_gap(const std::string& name, Done);
  void wait_for_activation(const std::string& name);

  bool by_topic() const { return choice_.form == "backport" || choice_.form == "r5"; }
  std::string address_of(const Row&) const;
  std::vector<Row> rows();
  std::optional<Row> row(const std::string& name);
  void put(const Row&);
  void drop(const Row&);
  void move(Row, const std::string& state, const std::string& reason = {});
  /// One timer a key; an earlier one of that key is cancelled.
  void after(std::chrono::seconds, const std::string& key, std::function<void()>);
  void cancel(const std::string& key);
  std::string topic_of_alarm(const Row& row) const { return "subscription " + row.subject; }

  SubscriptionParts parts_;
  SubscriptionCalls calls_;
  std::deque<Step> steps_;
  bool running_ = false, in_round_ = false;
  static constexpr int kCatches = 3;  ///< tries to ask for everything before a Subscription is requested again all the same
  int catches_ = 0;
  bool catch_up_queued_ = false;
  bool caught_up_ = false;               ///< since this round began: what is mended in it need not ask again
  SubscriptionChoice choice_;            ///< its form is empty while the record has not been asked
  bool configured_ = false, asked_ability_ = false;
  Millis record_now_ = 0;
  int calm_rounds_ = 0, refused_rounds_ = 0;
  bool unsettled_ = false;               ///< of this round: something has to be looked at soon
  std::map<std::string, Fall> falls_;    ///< by name
  std::map<std::string, std::int64_t> periods_;   ///< seconds between heartbeats as the record has it, by name; 0: it sends none
  std::map<std::string, int> rewrites_;  ///< times that one was written anew because it stood otherwise than wanted, by name
  mutable std::map<std::string, store::Millis> secret_doubted_;  ///< when one was last written anew because it was called with a wrong secret
  std::map<std::string, int> asks_;      ///< rounds that found it in error since it was last heard, by name
  std::set<std::string> unknown_;        ///< rows whose creation may still be under way
  std::set<std::string> switched_off_;   ///< strays that cannot be deleted, by id
  std::map<std::string, transport::TimerId> timers_;  ///< by purpose and name
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

}  // namespace app
