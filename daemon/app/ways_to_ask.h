// How facts about one patient are searched for at a record that does not take every search. Each type has an order of ways, from the narrowest to the
// plainest; the first that the record takes stays until forgive(). A record shows what it takes only by being asked: its metadata is not believed.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

namespace app {

enum class Way {
  changed,      ///< patient and _lastUpdated: what has changed since the last look
  dated,        ///< patient and the clinical date, with a day's overlap
  by_category,  ///< one search a category, with the date where there is one: large records want it so; what has no category is not found
  plain,        ///< the patient alone
  none          ///< not by patient
};

struct Asked {
  const char* type;
  const char* date;                     ///< search parameter of the clinical date; empty: it has none that is safe to use, and all is read
  std::vector<const char*> categories;  ///< of this type's category parameter; empty: it has none
};

/// What is looked for about every patient of an open case; of a record of R5 some types and search parameters have other names.
const std::vector<Asked>& asked_about_patients(bool r5 = false);
/// What is looked for about a patient of the roster who has no case yet.
const std::vector<Asked>& asked_about_roster();

struct Since {
  std::string changed;      ///< instant of the record's clock; empty: all, whenever it changed
  std::string clinical;     ///< date, "2026-03-01": what happened on or after it
};

class WaysToAsk {
 public:
  explicit WaysToAsk(const std::vector<Asked>& asked) : asked_(&asked) {}
  /// Beside the standard ones these: of each type the site's own, "code" or "system|code" as a search writes it.
  void with_categories(std::map<std::string, std::vector<std::string>> own) { own_ = std::move(own); }  // percent-encoded
  /// From now on these; what was refused stays refused.
  void ask(const std::vector<Asked>& asked) { asked_ = &asked; }

  /// "Observation?patient=a&...", all that is asked; refused ways are left out.
  std::vector<std::string> paths(const std::string& patient_id, const Since&) const;
  /// The record does not take this search. True: there is another way. False: none is left, one category is lost, or it is no search of these.
  bool refused(const std::string& path);
  /// Way in use; `none` after all were refused. Without a mark it is never `changed`.
  Way way(const std::string& type, bool with_mark = true) const;
  /// Whether the record has refused no search of this kind.
  bool takes(const std::string& type, Way) const;
  /// Whether a search by paths() brings everything of this type that concerns the patient, however old.
  bool complete(const std::string& type) const;
  /// Categories that its searches name now; empty: it is not searched by category.
  std::vector<std::string> categories_asked(const std::string& type) const;
  /// "Observation", "Condition of category encounter-diagnosis": what the record does not let us look for.
  std::set<std::string> lost() const;
  /// What is asked for otherwise than by change: "Observation by category".
  std::vector<std::string> others() const;
  /// A refusal may have been a mistake of the day.
  void forgive();

 private:
  const Asked* asked(const std::string& type) const;
  std::vector<std::string> categories(const Asked&) const;
  static std::vector<Way> order(const Asked&);

  const std::vector<Asked>* asked_;
  std::map<std::string, std::vector<std::string>> own_;
  std::map<std::string, std::set<Way>> refused_;  ///< by type
  std::set<std::string> no_category_;             ///< "Observation?category"
};

}  // namespace app
