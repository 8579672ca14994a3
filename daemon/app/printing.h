// Brings sheets to paper: each print order to a printer of the patient's unit, followed until it is out, to the second printer when the first cannot,
// to a person when none can. Everything on the executor; printers are spoken to on SideThreads.
//
// Nothing is printed twice after a crash: an order is on disk as `sending` before the first byte leaves, and one that may have left is looked for at
// the printer, by its job's name, before it is sent again. Where the printer cannot tell, it is not sent again, and a person is asked.
// Waiting is real time, kept in memory: after a start it begins anew. The plan clock stamps, and moves nothing here.
#pragma once

#include <chrono>
#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>

#include "app/log.h"
#include "app/paper.h"
#include "app/side_threads.h"
#include "app/rules.h"
#include "app/seams.h"
#include "print/printer.h"
#include "report/status.h"
#include "store/store.h"
#include "transport/timers.h"

namespace app {

/// The machine's clock, milliseconds UTC: when paper was really ordered and sent, whatever the plan clock says.
Millis real_millis();

struct PrintingHooks {
  std::function<void(const store::Error&, const char* doing)> store_failed;
  std::function<void(const std::string& topic, const std::string& text)> alarm;
  std::function<void(const std::string& topic)> calm;
  /// A person is to be asked, or no longer: the case is computed anew, later on the executor.
  std::function<void(const std::string& case_key, const std::string& trigger)> again;
};

class Printing {
 public:
  Printing(store::Store&, PlanClock&, Executor&, transport::Timers&, SideThreads&, const Rules&, Log&, PrintingHooks);
  ~Printing();

  /// Takes up whatever can be done now.
  void run();
  /// A person has done this one: what still lies at a printer is cancelled there.
  void take_back(const store::PrintOrder&);
  report::Status::Printing status();

 private:
  using Steady = std::chrono::steady_clock::time_point;
  /// What is known of one order since the start.
  struct Watch {
    bool busy = false;
    bool cancelling = false;                 ///< the job at the printer is being taken back, to go elsewhere
    int route = 0;                           ///< 0: the first queue, 1: the second
    std::optional<Steady> sent, without_paper, in_trouble;  ///< in_trouble: this printer
    std::map<int, print::Trouble> troubles;  ///< by route, as last seen
    transport::TimerId timer{};
    bool resting = false;
  };
  struct Alive;

  void step(const store::PrintOrder&);
  void prepare(const store::PrintOrder&);
  void prepared(store::PrintId, const std::string& uri, const print::Answer<print::PrinterState>&);
  void send(const store::PrintOrder&, const std::string& uri, const print::PrinterState&);
  void handed(store::PrintId, const print::Answer<int>&);
  void search(const store::PrintOrder&);
  void searched(store::PrintId, const print::Answer<print::Search>&);
  void follow(const store::PrintOrder&);
  struct Seen;
  void followed(store::PrintId, const Seen&);
  void unfinished(const store::PrintOrder&, const print::Job&, const Seen&);
  void stuck(const store::PrintOrder&, print::Trouble);
  void look_at_the_other(const store::PrintOrder&, const std::string& uri);
  void finished(const store::PrintOrder&, const print::Job&);
  void waits(const store::PrintOrder&, print::Trouble);
  void cancel(const store::PrintOrder&);

  void ask(const store::PrintOrder&, std::string_view trouble, bool give_up);
  void back_to_queue(const store::PrintOrder&, const std::string& why);
  bool too_long(const std::optional<Steady>& since, std::int64_t seconds) const;
  std::chrono::milliseconds pause(const Watch&) const;
  bool person_is_due(const store::PrintOrder&);
  std::string uri_of(const store::PrintOrder&, int route);
  std::string name_of_printer(const std::string& uri) const;
  QueueChoice queue_of(const store::PrintOrder&);
  std::optional<store::PrintOrder> order(store::PrintId, store::PrintState expected);
  void rest(store::PrintId, std::chrono::milliseconds);
  void on_printer(store::PrintId, const std::string& uri, std::function<std::function<void()>()> work);
  std::function<void()> guarded(std::function<void()> work);
  void note_answer(const std::string& uri, print::Trouble);
  template <class T>
  bool failed(const store::Result<T>& result, const char* doing) {
    if (result.has_value()) return false;
    hooks_.store_failed(result.error(), doing);
    return true;
  }

  store::Store& store_;
  PlanClock& clock_;
  Executor& executor_;
  transport::Timers& timers_;
  SideThreads& threads_;
  const Rules& rules_;
  const profile::Configuration::Print& print_;
  Log& log_;
  PrintingHooks hooks_;
  print::Patience patience_;
  std::string media_;
  std::map<store::PrintId, Watch> watches_;
  std::map<std::string, print::Trouble> printers_;  ///< by uri, as last heard; a printer that was never asked is not there
  std::set<std::string> alarmed_;                   ///< topics
  std::shared_ptr<Alive> alive_;
};

}  // namespace app
