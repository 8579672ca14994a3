// The nightly comparison with the record, and the proof that its searches find what it shows.
#include <fmt/format.h>

#include <algorithm>

#include "app/looking.h"
#include "app/reconcile.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"

namespace app {
namespace {

constexpr const char* kCompared = "compared with the record";
constexpr int kRecheck = 10;              // rounds after which a patient is read whole and what is held and not shown by itself; no oftener than every ten minutes
constexpr std::chrono::seconds kRecheckAfter{600};
constexpr int kTriesToCompare = 3;
constexpr int kCompareAt = 3;             // local hour: the quietest of a ward, before the morning's blood is drawn

std::string id_of(const std::string& reference) { return reference.substr(reference.find('/') + 1); }

}  // namespace

/// Once a local day, when its hour has come; a day that passed while nobody ran is made good at the start. The first day there is nothing to compare.
/// True: the procedures of the last three days are to be looked at as well, without a mark.
bool Looking::plan_comparison(const std::set<std::string>& patients) {
  if (!comparing_.empty()) return false;
  const std::string day = reconciling_day(parts_.clock.now(), parts_.rules.configuration.site.time_zone, kCompareAt);
  const auto last = parts_.store.meta(kCompared);
  if (last.has_error() || (*last && **last >= day)) return false;
  if (!*last || patients.empty()) {
    (void)parts_.store.set_meta(kCompared, day);
    return last->has_value();
  }
  start_comparison(day, patients);
  return true;
}

void Looking::start_comparison(const std::string& day, const std::set<std::string>& patients) {
  comparing_ = day;
  status_.compared = {};
  status_.compared.day = day;
  for (const std::string& patient : patients) patients_[patient] = {.whole = patients_[patient].whole, .compare = true};
}

/// In turns, everybody whose last whole reading is so many rounds ago; with it the searches are proved again, for what found everything yesterday may not today.
void Looking::choose_rechecks(const std::set<std::string>& patients) {
  const auto pause = std::chrono::seconds{parts_.rules.configuration.record->look_seconds};
  const int every = std::max(kRecheck, pause.count() == 0 ? 0 : static_cast<int>(kRecheckAfter / pause));
  std::erase_if(rechecked_, [&](const auto& one) { return !patients.contains(one.first); });
  for (const std::string& patient : patients) rechecked_.try_emplace(patient, rounds_);
  std::size_t left = 1 + patients.size() / static_cast<std::size_t>(every);
  for (auto& [patient, round] : rechecked_) {
    if (left == 0 || rounds_ - round < every) continue;
    round = rounds_;
    --left;
    patients_[patient].whole = patients_[patient].recheck = true;
    procedures_proved_ = sweep_proved_ = false;
    proved_.clear();
    proved_dated_.clear();
  }
}

/// A record may take a search by _lastUpdated and find nothing: once a type it is asked for what it has just shown.
void Looking::prove_changed(const std::string& patient, const SearchResult& shown, std::function<void()> then) {
  std::map<std::string, std::string> newest;  // by type
  for (const Found& found : shown.found) {
    const std::string& type = found.event.resource_type;
    if (proved_.contains(type) || ways_.way(type) != Way::changed) continue;
    const std::string& at = found.changed;
    if (!at.empty() && (newest[type].empty() || fhir_read::compare_instants(at, newest[type]).value_or(0) > 0)) newest[type] = at;
  }
  std::vector<std::string> paths;
  for (const auto& [type, at] : newest)
    if (const auto instant = fhir::read_time(at)) paths.push_back(fmt::format("{}?patient={}&_count=100&_lastUpdated=ge{}", type, id_of(patient), fhir::format_utc(instant->earliest - std::chrono::seconds{1})));
  if (paths.empty()) return then();
  ask(searching(paths), patient, [this, patient, paths, then](const SearchResult& result, std::size_t) {
    take_refusals(ways_, result, patient);
    std::set<std::string> found;
    for (const Found& one : result.found) found.insert(one.event.resource_type);
    for (const std::string& path : paths) {
      const std::string type = path.substr(0, path.find('?'));
      if (found.contains(type)) proved_.insert(type);
      else if (result.whole && result.withheld.empty() && ways_.refused(path)) {
        parts_.log.warn(fmt::format("the record takes a search for {} by _lastUpdated and does not find what it holds: it is asked in another way", type));
        read_all_whole();
      }
    }
    then();
  });
}

/// What a search has not found of one it may not have found of others.
void Looking::read_all_whole() {
  for (const std::string& patient : open_patients()) patients_[patient].whole = true;
}

/// A record may take a search by clinical date and find nothing: of a type of which it shows nothing it is asked for some without a date.
void Looking::prove_dated(const std::string& patient, const SearchResult& shown, std::function<void()> then) {
  std::set<std::string> found;
  for (const Found& one : shown.found) found.insert(one.event.resource_type);
  std::vector<std::string> paths;
  for (const Asked& one : asked_about_patients()) {
    const std::string type = one.type;
    if (!*one.date || ways_.way(type, false) != Way::dated || proved_dated_.contains(type) || shown.unanswered.contains(type) || !ways_.takes(type, Way::plain)) continue;
    if (found.contains(type)) proved_dated_.insert(type);
    else paths.push_back(fmt::format("{}?patient={}&_count=20", type, id_of(patient)));
  }
  if (paths.empty()) return then();
  RecordSearch what = searching(paths);
  what.pages = 1;
  ask(std::move(what), patient, [this, patient, then](const SearchResult& result, std::size_t) {
    for (const auto& [path, status] : result.refused) (void)ways_.refused(path);
    std::map<std::string, std::string> latest;
    for (const Found& one : result.found) latest[one.event.resource_type] = std::max(latest[one.event.resource_type], one.day);
    for (const auto& [type, day] : latest) {
      if (day <= oldest_asked_for()) continue;  // older than what was asked for
      parts_.log.warn(fmt::format("the record takes a search for {} by date and does not find what it holds: it is asked in another way", type));
      const Asked& one = *std::ranges::find_if(asked_about_patients(), [&](const Asked& asked) { return type == asked.type; });
      if (ways_.refused(fmt::format("{}?patient={}&{}=ge{}", type, id_of(patient), one.date, day))) read_all_whole();
    }
    then();
  });
}

/// What has moved to another patient, or is entered in error, the searches may no longer show; its own address does.
void Looking::read_what_is_gone(const std::string& patient, const SearchResult& result) {
  std::vector<std::string> gone;
  for (std::string& one : unseen(parts_.store, patient, result, ways_)) {
    const auto slash = one.find('/');
    if (ways_.complete(one.substr(0, slash)) || had_to_be_shown(one.substr(0, slash), one.substr(slash + 1))) gone.push_back(std::move(one));
  }
  fetch(gone, true);
}

/// "Procedure/p" of the open cases of a patient, as held.
std::vector<std::string> Looking::procedures_of(const std::string& patient) const {
  std::vector<std::string> found;
  const auto held = parts_.store.current_of_patient("", patient);
  if (held.has_value())
    for (const auto& fact : *held)
      if (fact.type == "Procedure" && !fact.deleted) found.push_back("Procedure/" + fact.id);
  return found;
}

/// Searched by date or category, it was within what was asked for.
bool Looking::had_to_be_shown(const std::string& type, const std::string& id) const {
  const Way way = ways_.way(type, false);
  return (way == Way::dated && dated_after(parts_.store, type, id, oldest_asked_for())) || (way == Way::by_category && of_a_category_asked(parts_.store, type, id, ways_, oldest_asked_for()));
}

void Looking::compare(const std::string& patient, const SearchResult& result, std::size_t missed, std::function<void()> then) {
  auto& sum = status_.compared;
  ++sum.patients;
  sum.facts += static_cast<std::int64_t>(result.found.size());
  sum.missed += static_cast<std::int64_t>(missed);
  if (missed > 0) parts_.log.warn(fmt::format("comparing {} with the record: {} facts had not come, neither sent nor asked for", patient, missed));
  if (!result.whole) ++sum.not_whole;
  auto asked = unseen(parts_.store, patient, result, ways_);
  if (asked.empty()) return then();
  ask(searching(asked), patient, [this, patient, asked, then](const SearchResult& single, std::size_t) {
    OneByOne outcome = one_by_one(asked, single, ways_);
    for (const Found& found : single.found)
      if (found.event.method == "PUT" && !found.in_error && had_to_be_shown(found.event.resource_type, found.event.resource_id))
        outcome.hidden.push_back(found.event.resource_type + "/" + found.event.resource_id);
    auto& so_far = status_.compared;
    so_far.deleted += static_cast<std::int64_t>(outcome.deleted);
    so_far.absent += static_cast<std::int64_t>(outcome.absent);
    so_far.hidden += static_cast<std::int64_t>(outcome.hidden.size());
    if (!outcome.hidden.empty())
      parts_.alarms.raise("look hidden", fmt::format("the record's searches do not show what it holds: {} and {} more of {}", outcome.hidden.front(), outcome.hidden.size() - 1, patient));
    if (outcome.absent > 0) parts_.log.warn(fmt::format("comparing {} with the record: it does not know {} of the facts held (404); they still count", patient, outcome.absent));
    then();
  });
}

void Looking::comparison_ended() {
  const auto& sum = status_.compared;
  if (sum.hidden == 0) parts_.alarms.calm("look hidden");
  if (sum.missed == 0) parts_.alarms.calm("look missed");
  else parts_.alarms.raise("look missed", fmt::format("comparing with the record at night brought {} facts that neither sending nor asking had: until it is known why, expect facts to come late", sum.missed));
  // Where the record did not answer to the end the next round does it again, but does not spend the night on it.
  const bool over = sum.not_whole == 0 || ++tries_to_compare_ >= kTriesToCompare;
  if (over) (void)parts_.store.set_meta(kCompared, comparing_), tries_to_compare_ = 0;
  if (over && sum.not_whole > 0) parts_.alarms.raise("look compared", fmt::format("the record could not be compared with what is held for {} of {} patients: it did not answer to the end", sum.not_whole, sum.patients));
  if (sum.not_whole == 0) parts_.alarms.calm("look compared");
  parts_.log.info(fmt::format("compared with the record: {} patients, {} facts found there; {} had not come, {} deleted there, {} unknown there, {} hidden from its searches",
                              sum.patients, sum.facts, sum.missed, sum.deleted, sum.absent, sum.hidden));
  comparing_.clear();
}

}  // namespace app
