// The roster's patients, swept for index Procedures, and the proof that the searches for index Procedures find what the record has.
#include <fmt/format.h>

#include <algorithm>

#include "app/looking.h"
#include "app/take_event.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"

namespace app {
namespace {

constexpr int kFirst = 72 * 3600;          // s: how far back a sweep looks
constexpr std::chrono::days kOverlap{1};   // of clinical dates: zones of date searches differ
constexpr int kReread = 15;                // sweeps of a patient after which Procedures are asked for without a date
constexpr int kProveAny = 10;              // rounds after which a record without a case is asked again whether its searches find what it has
constexpr std::size_t kNobodys = 10;       // patients without a single Procedure in all their years, from which on that is strange

std::string id_of(const std::string& reference) { return reference.substr(reference.find('/') + 1); }

bool is_shown(const SearchResult& in, const std::string& name) {
  return std::ranges::any_of(in.found, [&](const Found& one) { return one.event.method == "PUT" && one.event.resource_type + "/" + one.event.resource_id == name; });
}

}  // namespace

void Looking::read_roster() {
  roster_wanted_ = false;
  roster_.read([this, alive = std::weak_ptr<int>(alive_)](const std::set<std::string>& patients, bool whole) {
    if (!alive.lock()) return;
    scope_ = patients;
    if (whole) {
      std::erase_if(sweeps_, [&](const auto& one) { return !patients.contains(one.first); });
      std::erase_if(unswept_, [&](const auto& one) { return !patients.contains(one); });
      std::erase_if(bare_, [&](const auto& one) { return !patients.contains(one); });
      if (unswept_.empty()) parts_.alarms.calm("look roster");
    }
    status_.roster_patients = static_cast<std::int64_t>(patients.size());
    ended(whole);
  });
}

/// "2026-02-27": the first day of Procedures that a sweep asks for.
std::string Looking::oldest_swept() const { return fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000 - kFirst}} - kOverlap).substr(0, 10); }

/// A patient of the roster: Procedures alone, until one opens a case.
void Looking::look_at_next_in_scope() {
  const std::string patient = *scope_.begin();
  scope_.erase(scope_.begin());
  const std::string since = oldest_swept();
  ask(searching(scope_ways_.paths(id_of(patient), {"", since})), patient, [this, patient, since](SearchResult result, std::size_t) {
    const bool again = take_refusals(scope_ways_, result, patient);  // in another way
    if (again) scope_.insert(patient);
    swept(patient, result.whole);
    if (!result.whole || again) return ended(result.whole);
    if (!result.found.empty()) {
      sweep_finds_ = anybody_had_one_ = true;
      parts_.alarms.calm("look bare");
    }
    const auto kept = std::make_shared<SearchResult>(std::move(result));
    sweep_without_date(patient, *kept, since, [this, patient, kept] {
      if (sweep_proved_) return ended(true);
      prove_sweep(patient, *kept, [this] { ended(true); });
    });
  });
}

/// What bears no date no search by date brings: now and then Procedures are asked for without one, and each time as long as the search by date has shown none of
/// anybody, for then nothing tells that it finds any.
void Looking::sweep_without_date(const std::string& patient, const SearchResult& dated, const std::string& since, std::function<void()> then) {
  const bool due = sweeps_[patient]++ % kReread == 0 || !sweep_finds_;
  if (!due || !dated.withheld.empty() || scope_ways_.way("Procedure", false) != Way::dated || !scope_ways_.takes("Procedure", Way::plain)) return then();
  std::set<std::string> shown;
  for (const Found& one : dated.found) shown.insert(one.event.resource_id);
  ask(searching({fmt::format("Procedure?patient={}&_count=100", id_of(patient))}), patient, [this, patient, since, shown = std::move(shown), then](const SearchResult& result, std::size_t) {
    for (const auto& [path, status] : result.refused) (void)scope_ways_.refused(path);
    if (!result.whole) return then();
    const auto hidden = std::ranges::find_if(result.found, [&](const Found& one) { return one.about.empty() && !one.in_error && one.day > since && !shown.contains(one.event.resource_id); });
    if (hidden != result.found.end()) {
      parts_.log.warn(fmt::format("the record takes the search for a patient's Procedures by date and does not show Procedure/{}, which it has: it is asked in another way", hidden->event.resource_id));
      (void)scope_ways_.refused(fmt::format("Procedure?patient={}&date=ge{}", id_of(patient), since));
    }
    note_bare(patient, result);
    then();
  });
}

/// A record whose searches find nothing looks like a quiet day.
void Looking::note_bare(const std::string& patient, const SearchResult& without_date) {
  if (!without_date.refused.empty() || !without_date.withheld.empty()) return;
  if (without_date.found.empty()) bare_.insert(patient);
  else bare_.erase(patient), anybody_had_one_ = true;
  if (anybody_had_one_ || bare_.size() < kNobodys) return parts_.alarms.calm("look bare");
  parts_.alarms.raise("look bare", fmt::format("the record shows not one Procedure of {} patients of the roster, of no year: look whether the search Procedure?patient= is allowed us and finds anything", bare_.size()));
}

/// As long as somebody of the roster could not be asked about, a case of theirs may have gone unseen.
void Looking::swept(const std::string& patient, bool whole) {
  if (whole) unswept_.erase(patient);
  else unswept_.insert(patient);
  if (unswept_.empty()) return parts_.alarms.calm("look roster");
  parts_.alarms.raise("look roster", fmt::format("{} patients of the roster could not be asked about to the end{}; asked again", unswept_.size(), trouble_.empty() ? "" : " (" + trouble_ + ")"));
}

/// A record may take the search for changed Procedures and find nothing: once it is asked for one that it has.
void Looking::prove_procedures(std::function<void()> then) {
  std::string known;
  for (const std::string& patient : open_patients())
    if (const auto some = procedures_of(patient); !some.empty()) known = some.front();
  if (known.empty()) return prove_by_any_procedure(std::move(then));
  procedures_proved_ = true;
  ask(searching({known}), "a known Procedure", [this, known, then](const SearchResult& alone, std::size_t) {
    prove_by(known, alone.found.size() == 1 && alone.found.front().event.method == "PUT" ? alone.found.front().changed : "", alone.date, then);
  });
}

/// Nothing is known yet: whichever the record shows first when asked for one. It is looked at and not kept.
void Looking::prove_by_any_procedure(std::function<void()> then) {
  if (tried_any_ != 0 && rounds_ - tried_any_ < kProveAny) return then();
  tried_any_ = rounds_;
  RecordSearch what = searching({"Procedure?_count=1"});
  what.pages = 1;
  search(parts_.get, std::move(what), [this, then, alive = std::weak_ptr<int>(alive_)](const SearchResult& any) {
    if (!alive.lock()) return;
    if (any.found.empty()) return then();
    prove_by("Procedure/" + any.found.front().event.resource_id, any.found.front().changed, any.date, then);
  });
}

/// `at`: as written; empty: the record does not have it, or does not say when it was changed, and nothing can be proved by it. `date`: of that answer.
void Looking::prove_by(const std::string& known, const std::string& at, const std::string& date, std::function<void()> then) {
  const auto changed = fhir::read_time(at);
  if (!changed) return then();
  if (!is_settled(at, date)) {  // its index may lag behind: by the next round that has one
    procedures_proved_ = false;
    tried_any_ = 0;
    return then();
  }
  const auto near = [&](int seconds) { return fhir::format_utc(changed->earliest + std::chrono::seconds{seconds}); };
  search(parts_.get, searching({"Procedure?_lastUpdated=ge" + near(-1) + "&_lastUpdated=le" + near(2) + "&_count=100"}), [this, known, then, alive = std::weak_ptr<int>(alive_)](const SearchResult& result) {
    if (!alive.lock()) return;
    if (!is_shown(result, known) && result.whole && result.refused.empty() && result.withheld.empty()) {
      procedures_refused_ = procedures_hidden_ = true;
      parts_.alarms.raise("look changed Procedures", fmt::format("the record takes a search for changed Procedures and does not show {}, which it has: {}", known,
                                                                 roster_.configured() ? "the roster says whom to look at" : "a case opens only when its Procedure is sent"));
    }
    then();
  });
}

/// Changed longer ago than changes may take to become visible. Where the record does not say what time it is, nothing is known to be.
bool Looking::is_settled(const std::string& changed, const std::string& date) const {
  const std::string bound = instant_of_date_header(date, -static_cast<int>(parts_.rules.configuration.record->horizon_seconds));
  return !bound.empty() && !changed.empty() && fhir_read::compare_instants(changed, bound).value_or(1) < 0;
}

/// The same of the sweep: somebody of the roster whose Procedure is held, and whom the sweep shows none of.
void Looking::prove_sweep(const std::string& patient, const SearchResult& result, std::function<void()> then) {
  if (!result.refused.empty() || !result.withheld.empty() || !open_patients().contains(patient)) return then();
  const auto known = procedures_of(patient);
  if (known.empty()) return then();
  sweep_proved_ = true;
  if (std::ranges::any_of(known, [&](const std::string& one) { return is_shown(result, one); })) {
    parts_.alarms.calm("look sweep");
    return then();
  }
  const auto paths = scope_ways_.paths(id_of(patient), {"", "2000-01-01"});
  ask(searching({known.front()}), "a known Procedure", [this, known = known.front(), paths, then](const SearchResult& alone, std::size_t) {
    if (!is_shown(alone, known)) return then();
    if (!is_settled(alone.found.front().changed, alone.date)) {
      sweep_proved_ = false;
      return then();
    }
    ask(searching(paths), "procedures", [this, known, paths, then](const SearchResult& wide, std::size_t) {
      if (wide.whole && wide.refused.empty() && !is_shown(wide, known)) {
        parts_.log.warn(fmt::format("the record takes the search for a patient's {} by date and does not show what it has: it is asked in another way", paths.front().substr(0, paths.front().find('?'))));
        if (!scope_ways_.refused(paths.front())) parts_.alarms.raise("look sweep", fmt::format("the record's search for the Procedures of a patient does not show {}, which it has: a case of the roster opens only when its Procedure is sent", known));
      }
      then();
    });
  });
}

}  // namespace app
