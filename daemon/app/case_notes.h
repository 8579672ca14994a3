// What the daemon keeps of a case beside its plan, in store::Case::extra. Text, one line each; a line never holds a line feed.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "clinical/plan.h"
#include "store/case.h"

namespace app {

/// What the last sheet said of whom and where: a sheet that voids it must say the same, whatever the record has lost since.
struct SheetSubject {
  std::string title, operator_name, place;        ///< empty: not recorded
  std::optional<clinical::Instant> started;
  struct Site {
    clinical::Side side{};
    clinical::Vessel vessel{};
    std::optional<int> french;
  };
  std::vector<Site> sites;
};

struct CaseNotes {
  std::string identity;                           ///< case_identity as first stored: part of every identity, kept for ever
  std::string stopped;                            ///< code of a Reason: nothing but the closing is written until it is gone; empty: none
  std::string foreign;                            ///< what somebody else has done to our CarePlan, as a predicate: nothing at all is written; empty: nothing
  bool search = false;                            ///< the record is to be asked for what stands there before anything more is written
  store::Millis sheet_since = 0;                  ///< since when a new sheet waits for its changes to settle; 0: none does
  store::Millis known_since = 0;                  ///< plan clock when the case was first heard of; 0: not noted
  std::map<std::string, std::string> sides;       ///< by site key, as last recorded: "left"
  std::map<std::string, store::Millis> closer;    ///< by site key: plan clock since when the closer watch was told of, while it is
  struct Moved { std::string site, from, to; store::Millis at = 0; };
  std::vector<Moved> moved;                       ///< sites whose recorded side has changed, oldest first
  std::map<std::int64_t, store::Millis> sheet_times;  ///< number of a sheet -> data as of; the newest few
  SheetSubject subject;
  store::Millis ended = 0;                        ///< plan clock when the case was first seen finished or withdrawn; 0: it is not
  bool removed = false;                           ///< what was served here of it is gone: nothing more is written
  std::vector<std::string> places;                ///< "Location/bed", then what it is part of; empty: never recorded
  std::set<clinical::Identifier> identifiers;     ///< of the Patient when the CarePlan was made; empty: not made yet
};
CaseNotes notes_of(const store::Case&);
std::string text_of(const CaseNotes&);

SheetSubject subject_of(const clinical::CasePlan&);
/// Fills in what a plan that has lost its Procedure does not know.
void fill(clinical::CasePlan&, const SheetSubject&);

/// "Procedure/p1" of the key of a case.
std::string procedure_of(const std::string& case_key);

}  // namespace app
