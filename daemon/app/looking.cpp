#include "app/looking.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <ctime>
#include <utility>

#include "app/reconcile.h"
#include "app/take_event.h"
#include "fhir/date_time.h"
#include "fhir_read/intake.h"
#include "fhir_read/search_query.h"
#include "fhir_read/server_brief.h"
#include "json/tree.h"

namespace app {
namespace {

constexpr int kFirst = 72 * 3600;        // s: how far back a new installation looks for procedures
constexpr std::int64_t kClinical = 31;   // days: labs and vital signs of a patient who is looked at for the first time; a weight counts for 30
constexpr int kForgive = 15;              // rounds after which what was refused is tried again
constexpr int kRosterTurns = 25;          // patients of the roster looked at before the next round may begin
constexpr int kReread = 15;               // rounds after which a medication, a place, a device that facts refer to is read again: no search by patient brings it
constexpr const char* kMark = "looked at Procedure";
constexpr std::chrono::seconds kSlowRound{600};
constexpr std::int64_t kClocksApart = 60;  // s

constexpr std::chrono::days kOverlap{1};  // of clinical dates: zones of date searches differ, and what was charted late has an earlier date

std::string id_of(const std::string& reference) { return reference.substr(reference.find('/') + 1); }

/// For the log.
std::string without_patient(std::string path) {
  const auto at = path.find("patient=");
  return at == std::string::npos ? path : path.replace(at + 8, path.find('&', at) - at - 8, "...");
}

/// As it may stand in a query: records write an offset, and '+' means a blank there. To the second, downwards. Empty where it is no instant.
std::string in_utc(const std::string& instant) {
  const auto at = fhir::read_time(instant);
  return at ? fhir::format_utc(at->earliest) : std::string();
}

}  // namespace

std::string instant_of_date_header(const std::string& date, int seconds) {
  std::tm parts{};
  const char* end = ::strptime(date.c_str(), "%a, %d %b %Y %H:%M:%S GMT", &parts);
  if (!end || *end != '\0') return {};
  return fhir::format_utc(fhir::Instant{std::chrono::seconds{static_cast<std::int64_t>(::timegm(&parts)) + seconds}});
}

Looking::Looking(LookParts parts)
    : parts_(std::move(parts)), roster_({parts_.store, parts_.clock, parts_.get, parts_.rules, parts_.log, parts_.alarms, parts_.executor, parts_.timers}), told_(parts_.store) {
  std::map<std::string, std::vector<std::string>> own;
  for (const std::string& one : parts_.rules.configuration.record->categories) own[one.substr(0, one.find('/'))].push_back(fhir_read::percent_encoded(one.substr(one.find('/') + 1)));
  ways_.with_categories(std::move(own));
}
Looking::~Looking() {
  parts_.timers.cancel(timer_);
  for (const auto& [name, vain] : in_vain_) parts_.timers.cancel(vain.timer);
}

RecordSearch Looking::searching(std::vector<std::string> paths) const {
  const auto& record = *parts_.rules.configuration.record;
  RecordSearch what{std::move(paths), record.base_url};
  what.rebase = record.next_page == "rebase";
  what.parallel = static_cast<std::size_t>(parts_.rules.configuration.limits.record_parallel);
  return what;
}

/// What is found is journalled, much of it as it comes. `then` is told what was found, without the bodies, and how much of it was new; whole: all of it is durable.
void Looking::ask(RecordSearch what, std::string name, Taken then) {
  const auto fresh = std::make_shared<std::size_t>(0);
  const auto lost = std::make_shared<bool>(false);  // something that came could not be kept: nobody knows of which type
  const auto doubted = std::make_shared<std::set<std::string>>();  // types of which it showed somebody else's
  const auto alive = std::weak_ptr<int>(alive_);
  what.overflow = [this, name, fresh, lost, doubted, alive](std::vector<Found> found, std::function<void(bool)> go_on) {
    if (!alive.lock()) return;
    doubted->merge(leave_out_strangers(found));
    journal(std::move(found), {}, name, [fresh, lost, go_on = std::move(go_on)](bool durable, std::size_t count) {
      *fresh += count;
      *lost = *lost || !durable;
      go_on(durable);
    });
  };
  search(parts_.get, std::move(what), [this, name, fresh, lost, doubted, alive, then = std::move(then)](SearchResult result) {
    if (!alive.lock()) return;
    note_trouble(result);
    compare_clocks(result.date);
    std::vector<Found> rest(result.found.begin() + static_cast<std::ptrdiff_t>(result.taken), result.found.end());
    for (Found& one : result.found) one.event.body = {};
    doubted->merge(leave_out_strangers(rest));
    if (!doubted->empty()) {
      result.whole = false;
      result.unanswered.insert(doubted->begin(), doubted->end());
      trouble_ = fmt::format("{}: shows somebody else's, who may be the same person", *doubted->begin());
    }
    std::vector<Found> notes = std::move(result.notes);
    journal(std::move(rest), std::move(notes), name, [fresh, lost, then, result = std::move(result)](bool durable, std::size_t count) mutable {
      result.whole = result.whole && durable && !*lost;
      if (!durable || *lost) result.unanswered.clear(), result.single_status.clear();
      then(std::move(result), *fresh + count);
    });
  });
}

void Looking::round(std::function<void(bool whole)> then) {
  if (then) after_next_.push_back(std::move(then));
  round_wanted_ = true;
  next();
}

void Looking::look_at(const std::string& patient) {
  patients_[patient].whole = true;
  next();
}

/// One thing at a time: single resources, patients with a case, whoever is in scope, then a round.
void Looking::next() {
  if (running_ || !busy()) return;
  running_ = true;
  // However many single ones there are: between two portions of them something else has its turn.
  const bool others_wait = !patients_.empty() || !scope_.empty() || !histories_.empty() || round_wanted_ || roster_wanted_;
  singles_had_their_turn_ = !single_.empty() && !(singles_had_their_turn_ && others_wait);
  if (singles_had_their_turn_) return fetch_singles();
  if (!patients_.empty()) return look_at_next_patient();
  if (!histories_.empty()) return look_at_next_history();
  // However often somebody says "look again": between two rounds some of the roster have their turn.
  const bool roster_waits = roster_wanted_ || !scope_.empty();
  if (round_wanted_ && (!roster_waits || roster_turns_ == 0)) return begin_round();
  if (roster_turns_ > 0) --roster_turns_;
  if (roster_wanted_) return read_roster();
  look_at_next_in_scope();
}

/// Which version of FHIR the record speaks: some types have other names in R5. Where it does not say, R4's are used, and it is asked again.
void Looking::begin_round() {
  if (version_known_) return begin_asking();
  parts_.get("metadata", [this, alive = std::weak_ptr<int>(alive_)](const transport::Response* response) {
    if (!alive.lock()) return;
    std::optional<fhir_read::ServerBrief> brief;
    if (response && response->status == 200)
      if (const auto body = json::parse(response->body); body.has_value()) brief = fhir_read::server_brief(*body);
    if (brief) {
      version_known_ = true;
      ways_.ask(asked_about_patients(brief->fhir_version.starts_with("5")));
    }
    begin_asking();
  });
}

void Looking::begin_asking() {
  round_wanted_ = false;
  roster_turns_ = kRosterTurns;
  in_round_ = round_whole_ = true;
  round_began_ = std::chrono::steady_clock::now();
  trouble_.clear();
  after_this_ = std::exchange(after_next_, {});
  parts_.timers.cancel(timer_);
  asked_.clear();
  if (++rounds_ % kForgive == 0) no_history_.clear();
  // A refusal may have been a mistake of the day. What was charted meanwhile is older than the marks: everything is read.
  const bool forgive = rounds_ % kForgive == 0 && (!strangers_.empty() || !ways_.others().empty() || !lost_.empty() || procedures_refused_);
  if (forgive) {
    ways_.forgive();
    scope_ways_.forgive();
    procedures_hidden_ = procedures_proved_ = sweep_proved_ = sweep_finds_ = false;
    sorted_ = true;
    strangers_.clear();
    others_read_.clear();
    parts_.alarms.calm("look strangers");
    proved_.clear();
    proved_dated_.clear();
  }
  procedures_refused_ = procedures_hidden_;  // one refusal may have been the day's
  silent_.clear();
  const std::set<std::string> patients = open_patients();
  for (const std::string& patient : patients) {
    patients_[patient].whole |= forgive;
    owe(patient);  // death, merger, another identity
    if (rounds_ % kReread == 0)
      for (std::string& one : referred_to(parts_.store, patient, parts_.rules.configuration.record->base_url)) owe(one);
  }
  std::erase_if(withheld_, [&](const auto& one) {
    if (!patients.contains(one.first)) parts_.alarms.calm("look withheld " + one.first);
    return !patients.contains(one.first);
  });
  if (patients.empty())
    for (const char* topic : {"look hidden", "look missed", "look compared"}) parts_.alarms.calm(topic);
  choose_rechecks(patients);
  for (const std::string& one : std::exchange(later_, {})) owe(one);
  for (const std::string& type : parts_.rules.configuration.record->history)
    if (!no_history_.contains(type)) patients.empty() ? (void)parts_.store.set_meta(kHistoryMark + type, "") : (void)histories_.insert(type);
  roster_wanted_ = roster_.configured() && scope_.empty();  // a long one is gone through before it is read anew
  const bool all = plan_comparison(patients);
  const auto mark = parts_.store.meta(kMark);
  if (mark.has_value() && *mark && !all && !in_utc(**mark).empty()) return look_at_procedures(in_utc(**mark));
  first_mark();
}

std::set<std::string> Looking::open_patients() const {
  std::set<std::string> patients;
  const auto keys = parts_.store.open_case_keys();
  if (keys.has_value())
    for (const std::string& key : *keys)
      if (const auto row = parts_.store.case_of(key); row.has_value() && *row && (*row)->source.empty()) patients.insert((*row)->patient);
  return patients;
}

void Looking::first_mark() {
  parts_.get("metadata", [this, alive = std::weak_ptr<int>(alive_)](const transport::Response* response) {
    if (!alive.lock()) return;
    if (!response) {
      trouble_ = "metadata: no answer";
      return ended(false);
    }
    std::string from = instant_of_date_header(std::string(response->headers.get("Date").value_or("")), -kFirst);
    if (from.empty()) {  // nothing is taken from it but how far to look back: a day more is never too little
      parts_.log.warn("the record does not say what time it is (Date header of its metadata): by our own clock, and a day more");
      from = fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000 - kFirst}} - kOverlap);
    }
    look_at_procedures(from);
  });
}

/// Never later than our own clock, for a Date that is ahead would make us deaf, nor than what was seen; less the horizon. Empty: it stays as it is.
std::string Looking::mark_after(const SearchResult& result) const {
  const auto horizon = static_cast<int>(parts_.rules.configuration.record->horizon_seconds);
  std::string mark = instant_of_date_header(result.date, -horizon);
  if (mark.empty() && !parts_.clock.rehearsal()) mark = fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000 - horizon}} - kOverlap);
  const auto no_later_than = [&mark](const std::string& bound) {
    if (!bound.empty() && !mark.empty() && fhir_read::compare_instants(bound, mark).value_or(0) < 0) mark = in_utc(bound);
  };
  if (!parts_.clock.rehearsal()) no_later_than(fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000 - horizon}}));
  no_later_than(result.newest);
  return result.newest.empty() ? "" : mark;
}

void Looking::look_at_procedures(const std::string& since) {
  if (procedures_refused_) return ended(true);
  RecordSearch what = searching({"Procedure?_lastUpdated=ge" + since + (sorted_ ? "&_sort=_lastUpdated" : "") + "&_count=100"});
  if (!sorted_) what.pages *= 20;  // there is no telling which of them a part would leave out
  ask(std::move(what), "procedures", [this, since](const SearchResult& result, std::size_t) {
    if (!result.refused.empty() && sorted_) {
      sorted_ = false;
      return look_at_procedures(since);
    }
    if (!result.refused.empty() || !result.withheld.empty()) {
      procedures_refused_ = true;
      const int status = result.refused.empty() ? 403 : result.refused.front().second;
      if (!roster_.configured())
        parts_.alarms.raise("look changed Procedures", fmt::format("the record does not let us look for changed Procedures ({}) and no [roster] says whom to look at: a case opens only when its Procedure is sent", status));
      return ended(true);
    }
    parts_.alarms.calm("look changed Procedures");
    // Sorted pages that were too many: what came is durable and older than what did not, so the next round goes on from there. A record may take _sort and
    // not do it.
    const bool cut = result.cut && sorted_ && result.ascending;
    if (result.cut && sorted_ && !result.ascending) {
      sorted_ = false;
      parts_.log.warn("the record takes _sort=_lastUpdated and does not sort by it: all pages are asked for");
      return look_at_procedures(since);
    }
    const std::string mark = mark_after(result);
    if ((result.whole || cut) && !mark.empty()) (void)parts_.store.set_meta(kMark, mark);
    if (!result.whole || procedures_proved_) return ended(result.whole);
    prove_procedures([this] { ended(true); });
  });
}

/// "2026-02-01": the first day of values and doses that a patient is asked about.
std::string Looking::oldest_asked_for() const { return fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000}} - std::chrono::days{kClinical}).substr(0, 10); }

std::vector<std::string> Looking::paths_about(const std::string& patient, Purpose purpose) const {
  const auto mark = marks_.find(patient);
  Since since{"", oldest_asked_for()};
  if (mark != marks_.end() && !purpose.whole) {
    since.changed = mark->second.changed;
    since.clinical = fhir::format_utc(fhir::Instant{std::chrono::seconds{mark->second.clinical / 1000}} - kOverlap).substr(0, 10);
  }
  auto paths = ways_.paths(id_of(patient), since);
  if (mark == marks_.end() || purpose.whole || mark->second.unanswered.empty()) return paths;
  const auto owed = [&](const std::string& path) { return mark->second.unanswered.contains(path.substr(0, path.find('?'))); };
  std::erase_if(paths, owed);
  for (std::string& path : ways_.paths(id_of(patient), {"", oldest_asked_for()}))
    if (owed(path)) paths.push_back(std::move(path));
  return paths;
}

void Looking::look_at_next_patient() {
  const auto [patient, purpose] = *patients_.begin();
  patients_.erase(patients_.begin());
  auto paths = paths_about(patient, purpose);
  // A type that brought no answer about two patients would make everybody wait: the next round tries it again.
  std::set<std::string> aside;
  std::erase_if(paths, [&](const std::string& path) {
    const std::string type = path.substr(0, path.find('?'));
    return silent_.count(type) > 1 && (aside.insert(type), true);
  });
  ask(searching(std::move(paths)), patient, [this, patient = patient, purpose = purpose, aside = std::move(aside)](SearchResult result, std::size_t fresh) {
    if (!aside.empty()) result.whole = false;
    result.unanswered.insert(aside.begin(), aside.end());
    for (const std::string& type : result.silent) silent_.insert(type);
    const Mark mark{mark_after(result), parts_.clock.now(), result.unanswered};
    const bool whole = result.whole;
    const bool refused = !result.refused.empty();
    if (take_refusals(ways_, result, patient)) patients_[patient] = purpose;  // another way
    if (whole && shown_again(patient, result)) patients_[patient].whole = true;
    // And now the whole; but what did not come because the record did not answer is no fault of sending or asking.
    if (purpose.compare && !purpose.caught_up && !refused) {
      if (whole || !result.unanswered.empty()) patients_[patient] = {.whole = true, .compare = true, .caught_up = true};
      else ++status_.compared.patients, ++status_.compared.not_whole;
    }
    // Of what was answered the mark moves on; where nothing tells which types were not (they could not be kept), it stays.
    const bool some = whole || !result.unanswered.empty();
    if (some && (!patients_.contains(patient) || patients_[patient].caught_up) && !mark.changed.empty()) marks_[patient] = mark;
    if (purpose.recheck && !refused) read_what_is_gone(patient, result);
    if (!purpose.whole || refused) return ended(whole);
    const auto kept = std::make_shared<SearchResult>(std::move(result));
    prove_changed(patient, *kept, [this, patient, kept, whole, fresh, compares = purpose.compare && purpose.caught_up] {
      prove_dated(patient, *kept, [this, patient, kept, whole, fresh, compares] {
        if (!compares) return ended(whole);
        compare(patient, *kept, fresh, [this, whole] { ended(whole); });
      });
    });
  });
}

/// What was withheld from us last time and is no longer: the mark has moved on meanwhile, so that patient is read whole.
bool Looking::shown_again(const std::string& patient, const SearchResult& result) {
  std::set<std::string> now;
  for (const std::string& path : result.withheld) now.insert(path.substr(0, path.find('?')));
  std::set<std::string>& before = withheld_[patient];
  const bool again = !std::ranges::includes(now, before);
  before = std::move(now);
  return again;
}

/// True: something is still to be asked in another way.
bool Looking::take_refusals(WaysToAsk& ways, const SearchResult& result, const std::string& patient) {
  bool again = false;
  // A patient whose chart is closed to us is no reason not to ask about the others.
  if (result.withheld.empty()) parts_.alarms.calm("look withheld " + patient);
  else parts_.alarms.raise("look withheld " + patient, fmt::format("the record withholds {} searches about {} from us (403), {} among them: such facts count only when they are sent", result.withheld.size(), patient, result.withheld.front().substr(0, result.withheld.front().find('?'))));
  for (const auto& [path, status] : result.refused)
    if (ways.refused(path)) again = true;
    else parts_.log.warn(fmt::format("the record does not take the search {} ({})", without_patient(path), status));
  std::set<std::string> lost = ways_.lost();
  if (scope_ways_.way("Procedure", false) == Way::none) lost.insert("Procedure");
  if (lost == lost_) return again;
  lost_ = lost;
  const bool grave = std::ranges::any_of(lost, [](const std::string& what) { return what.starts_with("Observation") || what == "MedicationAdministration" || what == "Procedure"; });
  if (grave) parts_.alarms.raise("look refused", fmt::format("the record does not let us search by patient for {}: such facts count only when they are sent", fmt::join(lost, ", ")));
  else parts_.alarms.calm("look refused");
  return again;
}

report::Status::Looking Looking::status() const {
  report::Status::Looking now = status_;
  now.procedures = procedures_refused_ ? (roster_.configured() ? "roster" : "only when sent") : "changed";
  now.ways = ways_.others();
  now.waiting = static_cast<std::int64_t>(single_.size() + later_.size());
  now.whole_age_seconds = status_.last_whole.empty() ? -1 : std::chrono::duration_cast<std::chrono::seconds>(std::chrono::steady_clock::now() - whole_at_).count();
  for (const std::string& type : parts_.rules.configuration.record->history)
    if (!no_history_.contains(type)) now.histories.push_back(type);
  now.lost.assign(lost_.begin(), lost_.end());
  return now;
}

/// Values carry the record's time, plans ours: where the two part a value of now looks old, or as if it were still to come.
void Looking::compare_clocks(const std::string& date) {
  if (date.empty() || parts_.clock.rehearsal()) return;
  const auto theirs = fhir::read_time(instant_of_date_header(date, 0));
  if (!theirs) return;
  const auto apart = parts_.clock.machine() / 1000 - theirs->earliest.time_since_epoch().count();
  if (std::abs(apart) <= kClocksApart) return parts_.alarms.calm("look clock");
  parts_.alarms.raise("look clock", fmt::format("this machine's clock is {} s {} that of the record: look which of the two is right", std::abs(apart), apart < 0 ? "behind" : "ahead of"));
}

void Looking::note_trouble(const SearchResult& result) {
  if (result.trouble.empty()) return;
  trouble_ = result.trouble;
  if (trouble_.ends_with("no answer"))
    if (const std::string why = parts_.why_no_answer(); !why.empty()) trouble_ += ": " + why;
}

void Looking::ended(bool whole) {
  running_ = false;
  round_whole_ = round_whole_ && whole;
  if (!whole) {
    const auto minutes = std::chrono::duration_cast<std::chrono::minutes>(std::chrono::steady_clock::now() - whole_at_).count();
    parts_.alarms.raise("look", fmt::format("the record could not be asked for all that may have changed; asked again{}{}", trouble_.empty() ? "" : " (" + trouble_ + ")",
                                            minutes > 0 ? fmt::format("; for {} min it has not been asked to the end", minutes) : ""));
  }
  if (!comparing_.empty() && patients_.empty()) comparison_ended();
  note_slowness();
  // Whoever has a case is looked at round after round; a long roster is gone through in between.
  if (in_round_ && patients_.empty() && owed_.empty() && histories_.empty()) {
    in_round_ = false;
    status_.round_seconds = std::chrono::duration_cast<std::chrono::seconds>(std::chrono::steady_clock::now() - round_began_).count();
    if (round_whole_) status_.last_whole = fhir::format_utc(fhir::Instant{std::chrono::seconds{parts_.clock.now() / 1000}}), whole_at_ = std::chrono::steady_clock::now();
    if (round_whole_) parts_.alarms.calm("look");
    for (auto& then : std::exchange(after_this_, {})) parts_.executor.post([then = std::move(then), whole = round_whole_] { then(whole); });
    rest_until_next();
  }
  parts_.executor.post([this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    if (busy()) return next();
    parts_.rested();
  });
}

/// A round that does not come to its end is no round: changes are then heard late, whoever answers.
void Looking::note_slowness() {
  const auto pause = std::chrono::seconds{parts_.rules.configuration.record->look_seconds};
  const auto taken = std::chrono::duration_cast<std::chrono::minutes>(std::chrono::steady_clock::now() - round_began_);
  if (!in_round_ || pause.count() == 0 || taken < std::max<std::chrono::seconds>(kSlowRound, 10 * pause)) return;
  parts_.alarms.raise("look slow", fmt::format("a round of asking the record has not come to its end for {} min ({} single resources are still to be read): what changes there is heard late", taken.count(), single_.size()));
}

void Looking::rest_until_next() {
  parts_.alarms.calm("look slow");
  const auto seconds = parts_.rules.configuration.record->look_seconds;
  if (seconds == 0) return;
  parts_.timers.cancel(timer_);
  timer_ = parts_.timers.after(std::chrono::seconds{seconds}, [this, alive = std::weak_ptr<int>(alive_)] {
    if (!alive.lock()) return;
    parts_.executor.post([this, alive] {
      if (alive.lock()) round();
    });
  });
}

}  // namespace app
