// Hands queued writes out, one in flight a case: files to the chart folder, transactions to the record system.
// Runs on the executor; answers from the network are posted back to it. Backoff is real time, kept in memory: after a start all may be tried at once.
#pragma once

#include <functional>
#include <map>
#include <set>
#include <string>

#include "app/log.h"
#include "app/seams.h"
#include "app/step_writer.h"
#include "store/store.h"
#include "transport/network.h"
#include "transport/timers.h"

namespace app {

struct DeliverOptions {
  std::string base_url;                                  ///< of the record; empty: files only
  std::chrono::seconds first_backoff{1};
  std::chrono::seconds longest_backoff{300};
  std::chrono::seconds settle_unknown{150};              ///< how long a server may still be at work on what it did not answer
  std::chrono::seconds timeout{60};
  int conflicts_before_person = 3;
};

/// Whether a write may go: now, not now (the record could not be asked), not at all before a person has looked, or not as it is, because what it would change does
/// not stand where it was: then what of ours stands is read again.
struct Leave {
  enum class Kind { go, later, hold, gone } kind = Kind::go;
  std::string why;
  std::string stop{};                          ///< code of a Reason: the case is to be closed; empty: not
  std::optional<store::NewEvent> seen{};       ///< a fact that was met on the way
};

/// What the engine does with the outcome of a write. All on the executor.
struct DeliverHooks {
  /// Before each send: re-reads what must be true of the patient.
  std::function<void(const store::Write&, std::function<void(Leave)>)> before_send;
  /// The write is held, for this.
  std::function<void(const store::Write&, const Leave&)> held;
  /// Answered 2xx. Inside one store transaction with mark_delivered. Returns an error to roll back.
  std::function<store::Result<void>(store::Store&, const store::Write&, const transport::Response&)> delivered;
  /// After the commit of delivered.
  std::function<void(const store::Write&)> after_delivered;
  /// 409, 412, or 404 and 410 to a transaction: somebody else has written. The write is superseded already. Without effect, unless `partly`: of single
  /// writes some stand.
  std::function<void(const store::Write&, int conflicts_in_a_row, bool partly)> conflict;
  /// Asked where the record refuses a transaction for good, or our access with it: true where something in it will not be sent again, so that the rest may go.
  std::function<bool(const store::Write&, const std::string& why)> set_aside;
  /// Asked at each transaction: true where it goes to the record as single writes.
  std::function<bool(const store::Write&)> in_steps;
  /// Hands a transaction over as single writes.
  std::function<void(const store::Write&, std::function<void(StepsEnd)>)> write_in_steps;
  /// An attempt ended without an answer. Calls back with what the record shows: applied (with an answer as `delivered` wants it), absent, or none (ask again later).
  std::function<void(const store::Write&, std::function<void(std::optional<bool> applied, transport::Response as_answered)>)> look_up;
  /// Later, on the executor: a write is no longer in flight, however it ended.
  std::function<void()> landed;
  /// The store has failed or an operator must look.
  std::function<void(const store::Error&, const char* doing)> store_failed;
  std::function<void(const std::string& topic, const std::string& text)> alarm;
  std::function<void(const std::string& topic)> calm;
};

class Deliverer {
 public:
  Deliverer(store::Store&, PlanClock&, Executor&, transport::Timers&, RandomSource&, transport::Network*, ChartDisk*, Log&, DeliverOptions, DeliverHooks);
  ~Deliverer();

  /// Hands out what can go now.
  void run();
  /// Nothing in flight, backing off apart.
  bool idle() const { return in_flight_.empty(); }
  bool backing_off() const { return !resting_.empty(); }

 private:
  struct Alive;  // posted work checks that the deliverer still lives
  void hand_out(const store::Write&);
  void put_file(const store::Write&);
  void check_then_send(const store::Write&);
  void send(const store::Write&);
  void send_in_steps(const store::Write&);
  void steps_ended(const store::Write&, const StepsEnd&);
  void met_another_writer(const store::Write&, const std::string& why, bool partly);
  void give_up(const store::Write&, const std::string& why);
  void answered(const store::Write&, const transport::Response&);
  void not_answered(const store::Write&, const transport::Failure&);
  void refused(const store::Write&, const transport::Response&);
  void verify(const store::Write&);
  void settle_delivered(const store::Write&, const transport::Response&);
  void rest(const store::Write&, std::chrono::nanoseconds at_least, store::Effect, const std::string& why);
  void back(std::function<void()> work);
  void landed(store::WriteId);
  bool failed(const store::Result<void>&, const char* doing);
  std::chrono::nanoseconds backoff(std::int64_t attempts);

  store::Store& store_;
  PlanClock& clock_;
  Executor& executor_;
  transport::Timers& timers_;
  RandomSource& random_;
  transport::Network* network_;
  ChartDisk* chart_;
  Log& log_;
  DeliverOptions options_;
  DeliverHooks hooks_;
  std::set<store::WriteId> in_flight_;
  std::map<store::WriteId, transport::TimerId> resting_;
  std::map<std::string, int> conflicts_;  ///< in a row, by case
  std::map<std::string, std::int64_t> tries_;  ///< by case: how often in a row a write of it was put off
  std::shared_ptr<Alive> alive_;
};

struct Rules;
DeliverOptions deliver_options(const Rules&);

/// Method, path and extra headers of a write to a record, as kept in store::NewWrite::target: "POST CarePlan" then "Name: value" lines.
struct WriteTarget {
  std::string method, path;
  std::vector<transport::Header> headers;
};
std::string text_of(const WriteTarget&);
WriteTarget target_from(const std::string& text);

}  // namespace app
