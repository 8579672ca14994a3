// Who is in scope where the record cannot be asked which Procedures have changed: the patients of a Group or List, of a location's Encounters, of a
// laboratory's Appointments, or of a file that an interface of the site drops. Read anew each round; runs on the executor.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "app/alarms.h"
#include "app/log.h"
#include "app/record_search.h"
#include "app/rules.h"
#include "app/seams.h"
#include "app/side_threads.h"
#include "transport/timers.h"

namespace app {

struct RosterParts {
  store::Store& store;
  PlanClock& clock;
  RecordGet get;
  const Rules& rules;
  Log& log;
  Alarms& alarms;
  Executor& executor;
  transport::Timers& timers;
};

class Roster {
 public:
  explicit Roster(RosterParts);
  ~Roster();
  /// False: no [roster] is configured, and read() names nobody.
  bool configured() const;
  /// "Patient/a" of all sources. A source that does not answer keeps whom it last named, raises an alarm, and `whole` is false.
  void read(std::function<void(const std::set<std::string>& patients, bool whole)> done);
  /// By source, as last read: for /status.
  const std::map<std::string, std::set<std::string>>& known() const { return known_; }
  /// A Group or List that the roster is made of, sent to us. `body`: of what was sent, where it is known by an identifier; may be empty.
  bool is_source(const std::string& reference, const std::string& body) const;

 private:
  struct Source {
    std::string name;                ///< "Group/x", "Group?identifier=system|value", "Encounter of Location/y", "file ..."
    std::vector<std::string> paths;  ///< tried in order until one is taken
    bool list = false;               ///< a Group or List, which may also have been sent to us
  };
  struct Round;
  void next(std::shared_ptr<Round>);
  void ask(std::shared_ptr<Round>, std::size_t path);
  void took(std::shared_ptr<Round>, const SearchResult&);
  void failed(std::shared_ptr<Round>, const std::string& why);
  bool sent_to_us(std::shared_ptr<Round>);
  bool sent_with_identifier(std::shared_ptr<Round>, const std::string& type, const std::string& system, const std::string& value);
  void read_file(std::shared_ptr<Round>);
  void take_file(std::shared_ptr<Round>, const std::string& text);
  void resolve(std::shared_ptr<Round>, std::vector<std::string> identifiers, std::set<std::string> names);
  void says_nobody(const std::string& source, std::size_t entries);
  void named(std::shared_ptr<Round>, std::set<std::string> names);
  std::vector<Source> sources() const;
  std::string base_url() const;
  bool rebase() const;

  RosterParts parts_;
  std::map<std::string, std::set<std::string>> known_;     ///< by source
  std::set<std::string> emptied_;  ///< sources that named somebody and now nobody: given one round
  int reads_ = 0;
  SideThreads threads_;
  bool file_hangs_ = false;                                ///< the last read has not come to its end
  transport::TimerId timer_{};
  std::map<std::string, std::string> patient_of_;          ///< by "system|value"
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

/// "Group/a; List/b" in its parts, blanks taken off; empty parts are left out.
std::vector<std::string> parts_of_list(const std::string& text);

}  // namespace app
