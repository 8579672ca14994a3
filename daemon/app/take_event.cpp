#include "app/take_event.h"

#include <fmt/format.h>

#include <algorithm>

#include "fhir/date_time.h"
#include "fhir/digest.h"
#include "fhir/reference.h"
#include "fhir_read/intake.h"
#include "fhir_read/searchset.h"
#include "json/tree.h"

namespace app {
namespace {

using store::CurrentFact;
using store::Event;
using store::EventState;
using store::Result;

std::optional<int> compare_numbers(const std::string& a, const std::string& b) {
  const auto number = [](const std::string& text) {
    return !text.empty() && text.size() < 18 && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
  };
  if (!number(a) || !number(b) || a == b) return std::nullopt;
  return std::stoll(a) < std::stoll(b) ? -1 : 1;
}

bool read_alone(const Event& event) { return event.request_id.starts_with(kReadAlone); }

/// It was asked for after what is held had come. An id without a number says nothing of when.
bool read_since(const Event& event, const CurrentFact& held) {
  constexpr std::string_view after = " after ";
  const auto at = event.request_id.find(after);
  return read_alone(event) && (at == std::string::npos || held.event_id <= std::stoll("0" + event.request_id.substr(at + after.size())));
}

/// A lower number with a later time, or after a deletion: the record has begun to count anew (a backup, a resource made again), or the clocks of its nodes part. Its
/// own address tells.
bool may_count_anew(const CurrentFact& fact, const CurrentFact& old) {
  if (compare_numbers(fact.version_id, old.version_id).value_or(0) >= 0) return false;
  if (fact.last_updated.empty() || old.last_updated.empty()) return old.deleted;
  const auto order = fhir_read::compare_instants(fact.last_updated, old.last_updated);
  return order && *order >= (old.deleted ? 0 : 1);  // of what is deleted the time is that of the version before
}

/// What a reference to a patient says that FHIR allows for no id: "Patient/a_b". Empty: nothing, or there is none.
std::string odd_patient(const json::Value& resource) {
  for (const char* name : {"subject", "patient", "for"}) {
    const auto text = resource[name]["reference"].text();
    const auto at = text.rfind("Patient/");
    if (at == std::string_view::npos || (at > 0 && text[at - 1] != '/')) continue;
    const auto id = text.substr(at + 8, text.substr(at + 8).find('/'));
    if (!fhir::is_id(id)) return std::string(text.substr(0, 200));
  }
  return {};
}

bool withdrawn(const CurrentFact& fact) { return app::withdrawn(fact.body); }

/// What a sender without versions sent, against one that says when it was changed: later than the other was received is later.
Result<std::optional<int>> order_by_receipt(store::Store& store, const CurrentFact& fact, const CurrentFact& old) {
  if (fact.last_updated.empty() || !old.last_updated.empty() || !old.version_id.empty()) return std::optional<int>();
  const auto brought = store.event(old.event_id);
  if (brought.has_error()) return brought.error();
  if (!*brought) return std::optional<int>();
  return fhir_read::compare_instants(fact.last_updated, fhir::format_utc(fhir::Instant{std::chrono::seconds{(*brought)->received_at / 1000}}));
}

Taken ended(const Event& event, EventState state, std::string reason, store::Mark mark = store::Mark::none) {
  Taken taken;
  taken.ending = {event.id, state, mark, std::move(reason)};
  return taken;
}

/// What comes late must not bring back what was taken back; but somebody may mean just that.
Taken still_withdrawn(const Event& event, std::optional<int> order) {
  Taken taken = ended(event, EventState::irrelevant, "withdrawn, and this is not provably newer");
  taken.uncertain = !order;
  if (!order)
    taken.alarm = fmt::format("{}/{} was entered in error and has come again without anything that shows it to be newer: it stays withdrawn, and so does what "
                              "rests on it. To bring it back, send it with a later meta.lastUpdated or a higher meta.versionId", event.resource_type, event.resource_id);
  return taken;
}

/// A resource of no patient (a Medication, a Device) moves the plans of everyone who refers to it.
Result<void> add_referrers(store::Store& store, const CurrentFact& fact, std::set<PatientKey>& patients) {
  const auto referrers = store.referrers(fact.source, fact.type + "/" + fact.id);
  if (referrers.has_error()) return referrers.error();
  for (const auto& referrer : *referrers)
    if (!referrer.patient.empty()) patients.insert({referrer.source, referrer.patient});
  return {};
}

Result<Taken> take_deletion(store::Store& store, const Event& event) {
  const auto held = store.current(event.source, event.resource_type, event.resource_id);
  if (held.has_error()) return held.error();
  if (*held && !(*held)->deleted && compare_numbers(event.version_id, (*held)->version_id).value_or(0) < 0)
    return ended(event, EventState::irrelevant, "deletion of an older version than the one held (" + (*held)->version_id + ")");
  Taken taken = ended(event, EventState::applied, "deleted");
  // One that is late, or of what has been made again since: its own address tells. Only what that said is beyond doubt.
  taken.uncertain = *held && !(*held)->deleted && !read_since(event, **held) && event.resource_type != "OperationOutcome";
  CurrentFact fact{event.source, event.resource_type, event.resource_id, event.version_id, "", "", true, "", event.id, ""};
  if (*held) {
    fact.patient = (*held)->patient;
    if (fact.version_id.empty()) fact.version_id = (*held)->version_id;  // so that a late older version is known to be older
    fact.last_updated = (*held)->last_updated;
    if (!fact.patient.empty()) taken.patients.insert({fact.source, fact.patient});
    if (auto added = add_referrers(store, **held, taken.patients); added.has_error()) return added.error();
  } else {
    taken.ending = {event.id, EventState::irrelevant, store::Mark::none, "deletion of what was never here"};
  }
  taken.fact = std::move(fact);
  return taken;
}

CurrentFact fact_of(const Event& event, const fhir_read::Subject& subject) {
  return {event.source, event.resource_type, event.resource_id, subject.version.empty() ? event.version_id : subject.version, subject.last_updated,
          event.body, false, subject.patient, event.id, event.content_hash};
}

}  // namespace

std::string read_alone_after(store::EventId held) { return std::string(kReadAlone) + " after " + std::to_string(held); }

// The clinical model names the time first, then the number. The two part only where the clocks of a record's nodes do: then version n + 1 may bear an earlier time
// than n (seen in a FHIR server), and by the time the older one would stand for good. So of two numbers the higher is newer; what only its time makes older is
// asked for again (`uncertain`), for a record's numbers need not rise (FHIR calls them opaque).
std::optional<int> compare_versions(VersionSaid a, VersionSaid b) {
  if (!a.version_id.empty() && a.version_id == b.version_id) return 0;
  if (const auto order = compare_numbers(a.version_id, b.version_id)) return order;
  if (a.last_updated.empty() || b.last_updated.empty() || a.last_updated == b.last_updated) return std::nullopt;
  const auto order = fhir_read::compare_instants(a.last_updated, b.last_updated);
  return order && *order != 0 ? order : std::nullopt;
}

bool withdrawn(const std::string& body) { return body.find("\"entered-in-error\"") != std::string::npos; }

Result<Taken> take_event(store::Store& store, const Event& event, const std::string& base_url) {
  if (event.method == "DELETE") return take_deletion(store, event);
  if (event.body.empty()) return ended(event, EventState::irrelevant, "look again");
  // What is in the journal was sound JSON when it came: of a type that does not matter nothing is read again.
  if (!fhir_read::relevant(event.resource_type)) return ended(event, EventState::irrelevant, event.resource_type + " does not matter here");
  const auto parsed = json::parse(event.body);
  if (parsed.has_error()) return ended(event, EventState::dead, "not JSON: " + parsed.error().text, store::Mark::quarantined);
  if (!fhir::is_id(event.resource_id)) {
    Taken taken = ended(event, EventState::dead, "its id is none that FHIR allows (A-Z, a-z, 0-9, - and ., 64 at most)", store::Mark::quarantined);
    taken.alarm = fmt::format("{}/{} has an id that FHIR does not allow: it is kept aside and counts for nothing", event.resource_type, event.resource_id.substr(0, 100));
    return taken;
  }
  const bool read_by_us = event.request_id == kReadByUs || read_alone(event);
  // Asked for by its id, the record shows all of it that is ours to see.
  if (!base_url.empty() && event.source.empty() && !read_alone(event) && fhir_read::labelled_in_part(*parsed)) {
    Taken taken = ended(event, EventState::irrelevant, "a part of the resource only (SUBSETTED): it is read by itself");
    taken.uncertain = true;
    return taken;
  }
  const fhir_read::Subject subject = fhir_read::subject_of(*parsed, event.source.empty() ? base_url : "");

  CurrentFact fact = fact_of(event, subject);
  const auto held = store.current(fact.source, fact.type, fact.id);
  if (held.has_error()) return held.error();
  Taken taken = ended(event, EventState::applied, "");
  if (*held) {
    const CurrentFact& old = **held;
    auto order = compare_versions({fact.version_id, fact.last_updated}, {old.version_id, old.last_updated});
    if (!order && withdrawn(old)) {
      const auto by_receipt = order_by_receipt(store, fact, old);
      if (by_receipt.has_error()) return by_receipt.error();
      order = *by_receipt;
    }
    // What we have just read at its own address is how it stands, whatever a clock says. A search may have been answered before what came meanwhile.
    const bool alone = read_since(event, old);
    const bool doubtful = !compare_numbers(fact.version_id, old.version_id) || may_count_anew(fact, old);
    if (order && *order < 0 && !(alone && doubtful)) {
      taken = ended(event, EventState::irrelevant, "older than the version held (" + old.version_id + ")");
      taken.uncertain = doubtful && fact.content_hash != old.content_hash;
      return taken;
    }
    if (withdrawn(old) && !withdrawn(fact) && order.value_or(0) <= 0 && !alone) {
      taken = still_withdrawn(event, order);
      if (read_by_us) taken.uncertain = true, taken.alarm.clear();  // asked again at once, not a matter for a person
      return taken;
    }
    // A deletion that came late, twice or by mistake; or a search that still shows what is gone. Its own address tells.
    if (order == 0 && old.deleted && !alone) {
      taken = ended(event, EventState::irrelevant, "deleted meanwhile");
      taken.uncertain = read_by_us;
      return taken;
    }
    if (!old.patient.empty() && old.patient != fact.patient) taken.patients.insert({old.source, old.patient});
    if (old.content_hash == fact.content_hash && !old.deleted) taken.ending.reason = "repeat";
  }
  if (fact.patient.empty())
    if (const std::string odd = odd_patient(*parsed); !odd.empty())
      taken.alarm = fmt::format("{}/{} is about {}, which is no id that FHIR allows: it counts for nobody", event.resource_type, event.resource_id, odd);
  if (!fact.patient.empty()) taken.patients.insert({fact.source, fact.patient});
  if (fact.type == "Patient")  // merged into another: that one's plans move as well
    for (const std::string& target : subject.refers_to)
      if (target.starts_with("Patient/")) taken.patients.insert({fact.source, target});
  if (auto added = add_referrers(store, fact, taken.patients); added.has_error()) return added.error();
  taken.refers_to = subject.refers_to;
  taken.fact = std::move(fact);
  return taken;
}

}  // namespace app
