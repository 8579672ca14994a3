// One journalled event against the current facts: which resource it changes, and whose plans that may move.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "store/store.h"

namespace app {

struct PatientKey {
  std::string source;
  std::string reference;  ///< "Patient/a"
  friend auto operator<=>(const PatientKey&, const PatientKey&) = default;
};

/// How an event ends once the plans it moves are in place.
struct Ending {
  store::EventId id = 0;
  store::EventState state = store::EventState::applied;
  store::Mark mark = store::Mark::none;
  std::string reason;
};

struct Taken {
  Ending ending;
  std::optional<store::CurrentFact> fact;   ///< to be put in place of the one held
  std::vector<std::string> refers_to;
  std::set<PatientKey> patients;            ///< whose plans are to be computed again
  std::string alarm;                        ///< what a person must look at, under the topic "taken <Type/id>"; empty: nothing, or it is over
  bool uncertain = false;                   ///< taken for older by its time alone: a record's clocks may part, so it is better asked
};

/// What a resource says of its own version: meta.versionId and meta.lastUpdated, empty where it says none.
struct VersionSaid {
  const std::string& version_id;
  const std::string& last_updated;
};
/// -1, 0, 1: is `a` older, equal or newer than `b`; nullopt when nothing tells. Numbers of one resource rise in the order in which they were written;
/// the times of a record's nodes may part.
std::optional<int> compare_versions(VersionSaid a, VersionSaid b);
/// Entered in error: only what is provably newer brings it back.
bool withdrawn(const std::string& body);

/// request_id of what was read from the record as it stands.
inline constexpr const char* kReadByUs = "looked up";
/// The same of a single resource that was asked for by its id, which no cache of searches answers.
inline constexpr const char* kReadAlone = "looked up alone";
/// Something of ours, read at its address after somebody else had written: that version stands now, whatever we wrote before.
inline constexpr const char* kStandsNow = "read again alone";
/// That of what was asked for while the fact held came from this event (0: none was held). What came meanwhile may be newer than the answer.
std::string read_alone_after(store::EventId held);

/// Reads only. An older version than the one held is irrelevant; deletion and entered-in-error win over an equal or older version. A lower number with a later
/// time is uncertain: read alone after what is held had come it counts, for records are restored and begin to count anew. A part (SUBSETTED) never takes the
/// place of the whole. A repeat of what is held still names its patients, so that an evaluation cut short by a stop is made good. What cannot be interpreted,
/// or has an id that FHIR does not allow, is dead, marked quarantined.
/// `base_url`: of the server that events without a source come from; empty: unknown.
store::Result<Taken> take_event(store::Store&, const store::Event&, const std::string& base_url);

}  // namespace app
