// Reads from the record: single resources and searches with all their pages.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "json/tree.h"
#include "store/store.h"
#include "transport/network.h"

namespace app {

/// GET below the record's base URL, without cache; nothing: no answer. Calls back on the executor.
/// An answer that is larger than is taken comes as a Response with this status and nothing in it: it can be asked for in smaller parts.
constexpr int kTooLarge = 0;
using RecordGet = std::function<void(const std::string& path, std::function<void(const transport::Response*)>)>;

struct Found {
  store::NewEvent event;              ///< PUT of what stands, DELETE of what the record says is gone (410; a 404 says nothing)
  std::string identity;               ///< of an item of ours; else empty
  std::string changed;                ///< meta.lastUpdated as written; may be empty
  bool alone = false;                 ///< asked for by its id
  std::string day = {};               ///< "2026-03-02" of its clinical date as written; empty: it says none
  std::string asked_for = {}, about = {};  ///< both "Patient/a": whom a search was for, and whose it is; both empty where the two are one, or one is not known
  bool in_error = false;              ///< it says of itself that it was entered in error
};
struct RecordSearch {
  std::vector<std::string> paths;     ///< "Task/7", "Task?patient=a", "Task/_history?_since=..."
  std::string base_url;               ///< of the record: links to the next page are followed below it only
  bool ours_only = false;             ///< of what a search finds, only what we wrote
  bool rebase = false;                ///< a next page on another host with the same path is asked for below base_url; else it is refused
  std::size_t parallel = 1;           ///< as many are asked at once, all of a type one after the other; 1: in their order
  std::size_t pages = 500;            ///< a search that goes on for longer is no answer
  std::size_t idle_pages = 20;        ///< one after the other without anything that this search has not shown yet: no answer either
  std::size_t hold_bytes = 16u << 20; ///< of bodies. More of them are handed to `overflow` and not kept, so that what a record answers never fills the memory
  /// Takes the bodies away and says when it goes on, and whether all is well; what was found stays in the result without its body. None: all is kept.
  std::function<void(std::vector<Found>, std::function<void(bool well)> go_on)> overflow = {};
};
struct SearchResult {
  std::vector<Found> found;           ///< of a history: what it says was deleted last, each once
  std::size_t taken = 0;              ///< as many at the beginning went to `overflow`: they have no body any more
  std::vector<Found> standing;        ///< of a history: what it says stands, without the bodies, each once
  std::set<std::string> unanswered;   ///< types of which something was asked and not answered, or not to the end; with `whole` nothing
  std::set<std::string> silent;       ///< of these, those that brought no answer at all
  std::map<std::string, int> single_status;  ///< of what was asked for by its id, "Task/7": how it was answered; 0: not at all
  std::vector<Found> notes;           ///< per patient and type, whether the record says that it keeps something back (fhir_read/searchset.h)
  bool whole = true;                  ///< false: something was not answered, or not to the end; nothing may be concluded from what is not there
  std::vector<std::pair<std::string, int>> refused;  ///< searches that the record does not take (400 with an outcome, 405, 406, 501; of a history 404 too), with the status
  std::vector<std::string> withheld;  ///< searches answered 403: perhaps of this patient alone
  bool cut = false;                   ///< not whole only because there were too many pages; what was found are the first ones
  std::string newest;                 ///< greatest meta.lastUpdated seen; empty: none
  bool ascending = true;              ///< each match said when it was changed, none earlier than the one before it
  std::string trouble;                ///< the first thing that made it not whole: "Observation: no answer", "Condition: answered 500"
  std::string date;                   ///< Date header of the first answer: the record's clock; may be empty
};
using SearchDone = std::function<void(SearchResult)>;

/// Where a Bundle's next page is asked for, below the record's base ("Observation?page=2"); or why it is not asked for. `search`: what the Bundle answers.
struct NextPage {
  std::string path, refused;
};
NextPage next_page(std::string url, const std::string& base_url, bool rebase, const std::string& search);

void search(const RecordGet&, RecordSearch, SearchDone);

/// The day that the search parameters date and effective-time look at (FHIR R4, R5: Observation, DiagnosticReport, MedicationAdministration, Procedure), as written;
/// empty: the resource says none, or not to the day.
std::string clinical_day(const json::Value& resource);

/// What of ours stands for a case. `forgotten`: also by patient, for items that this store does not know.
RecordSearch search_for(const store::Case&, const std::vector<store::Item>&, const std::string& base_url, bool forgotten);

}  // namespace app
