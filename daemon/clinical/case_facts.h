// The facts of one case, gathered from a patient's record, with what each access site says settled. Still no rule applied.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "clinical/plan.h"
#include "clinical/protocol.h"

namespace clinical {

enum class Certainty { unknown, low, contradicted, known };

/// One word on what several sources say. `value` is meaningful for known and low; `said` lists every different saying.
template <class T>
struct Settled {
  Certainty certainty = Certainty::unknown;
  T value{};
  std::vector<Recorded<T>> said;
  bool usable() const { return certainty == Certainty::known || certainty == Certainty::low; }
};

/// One period of pressing on one puncture.
struct Hold {
  Instant start{};
  Instant first_start{};             ///< earlier than `start` where the start was recorded again while it ran
  std::optional<Instant> end;        ///< compression ended / device off
  Closure method = Closure::unknown; ///< how this hold was done; unknown: as the site's closure
  bool after_rebleed = false;
  bool implied = false;              ///< no start recorded: it begins with what made it needed (sheath out, rebleed, failure, growing swelling)
  bool asked = false;                ///< implied by a rebleed, a failure or a swelling: whether and since when somebody presses is not known
  Source source;
};

/// A check that says the swelling is at or over its limit, may be, or grows: it voids a T0 that stands.
struct Growth {
  Instant at{};
  Source source;
  bool voided = false;               ///< a T0 stood then
};

/// One puncture. Times are facts whose clinical time is <= the instant the case was gathered for.
struct SiteFacts {
  std::string key;                   ///< as SitePlan::key
  Settled<Side> side;
  Settled<Vessel> vessel;
  Settled<int> french;               ///< next whole French of the largest sheath ever in it (upsizing takes the largest)
  Settled<Closure> closure;
  std::optional<int> punctures;
  bool difficult = false, high_stick = false, low_stick = false, upsized = false;
  bool uncomplicated = false;        ///< recorded as one attempt at the usual height
  Direction direction = Direction::unknown;
  std::vector<AccessEvent> events;   ///< of this site, by time
  std::vector<SiteCheck> checks;     ///< of this site, by time, timed ones only
  // The course as recorded
  bool sheath_known_in = false;      ///< an insertion is recorded and no removal after it
  std::optional<Instant> sheath_out;
  bool out_untimed = false;          ///< a removal is recorded without an exact time
  std::optional<Instant> dry_before_out;  ///< haemostasis recorded before the removal of that sheath: a contradiction, no T0
  bool disputed = false;             ///< recorded times contradict: every instant of compression and rest is withheld, t0 is null
  std::vector<Hold> holds;           ///< by start
  bool device_failed = false;        ///< closure failed, or the method changed
  std::optional<Hold> held_long;     ///< pressed after a closure device or suture for as long as by hand alone, or (implied) perhaps: it failed, whether or not somebody says so
  std::optional<AccessEvent> failed_late;  ///< the closure was recorded as failed while a T0 stood, which that voided: the last such record
  std::optional<Instant> t0;         ///< stands now; null while compression runs or a rebleed voided it
  std::vector<Instant> t0_history;   ///< every T0 the site has had, the standing one last
  std::vector<Instant> rebleeds;     ///< each: start of a compression after a T0, or a coded rebleed; one between two T0s
  std::vector<Growth> growths;       ///< by time
  std::vector<Instant> t0_outgrown;  ///< T0s that a growth voided
  std::optional<Instant> dry_while_pressed;  ///< haemostasis confirmed in the hold that runs, which is or may be by a device: no T0 before that is off
  bool haemostasis_unconfirmed = false;  ///< compression ended alone: haemostasis is still to be confirmed
  /// The sheath is out, or somebody presses or has pressed where it was.
  bool out() const { return !sheath_known_in && (sheath_out || out_untimed || !holds.empty() || !t0_history.empty()); }
  std::string baseline_pulses;
};

struct CaseFacts {
  Procedure index;
  bool provisional = false;
  Instant start{};                   ///< index start (its end, where only that is known); the earliest where inexact
  bool start_exact = false;          ///< false: not recorded to the second; removal is withheld
  std::optional<Instant> procedure_end, discharge, known_since;
  std::optional<Instant> case_end;   ///< discharge, or case-end after the last T0; null: open
  Patient patient;
  std::optional<Encounter> encounter;
  Tristate intervention = Tristate::unknown;
  std::vector<SiteFacts> sites;      ///< at least one
  // Facts of the patient inside the window [start - look-back, case end], by time
  std::vector<Administration> administrations;
  std::vector<HomeDrug> home_drugs;
  std::vector<HomeList> home_lists;
  std::vector<Statement> statements;
  std::vector<Decision> decisions;
  std::vector<Measurement> measurements;
  std::vector<Risk> risks;
  std::vector<TaskFact> tasks;
  std::vector<Order> orders;
  std::vector<Withheld> withheld;
  std::vector<Remark> remarks;
  std::vector<Contact> contacts;
  std::vector<SiteCheck> unplaced_checks;  ///< name no site of several, and no later complete check of each site replaces them
  std::vector<Conflict> conflicts;   ///< found while gathering; side/size/vessel/closure, times, unplaced events
};

/// The cases of a record as far as they are known at `clock` (facts with a later clinical time do not count, and are noted to the clock;
/// one more than case.future-tolerance ahead is a conflict). Deterministic order: by start, then by procedure reference.
std::vector<CaseFacts> cases_of(const Record&, const Protocol&, const Clock&);

/// The same case with only what was true by `at` (for gates at the pull): a statement about the history counts whenever made.
CaseFacts as_known_at(const CaseFacts&, Instant at);

}  // namespace clinical
