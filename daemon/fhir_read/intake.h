// What the intake and the store need to know of a resource before it is read for facts: whose it is, what it refers to, and how Bundles
// of every type fall apart into resource events.
#pragma once

#include "clinical/facts.h"
#include "fhir/issue.h"
#include "fhir_read/notification.h"
#include "fhir_read/resource_set.h"
#include "json/tree.h"

#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

// ---- One resource

struct Subject {
  std::string patient;                 // "Patient/x" (of a Patient: itself); empty: none, or not on this server
  std::vector<std::string> refers_to;  // other resources on the same server, "Type/id", sorted, each once
  std::string version, last_updated;   // meta.versionId, meta.lastUpdated; empty when absent
};
// `base_url`: server that the resource came from; absolute references below it count as its own.
Subject subject_of(const json::Value& resource, std::string_view base_url = {});

// Resource types from which facts are read, or that such resources refer to. Sorted.
const std::vector<std::string>& relevant_types();
bool relevant(std::string_view type);

// Of an entry of a Bundle: relevant, or it says something about the Bundle itself. Of others type, id and meta are all that is looked at.
bool matters_in_bundle(std::string_view type);

// Resources that the set refers to and does not hold ("Medication/m1"), of relevant types other than Patient. Sorted, each once.
std::vector<std::string> wanted_targets(const ResourceSet& set);

// -1, 0, 1; nullopt when one of the two is no full instant or the written precisions overlap. Fractions of a second count.
std::optional<int> compare_instants(std::string_view a, std::string_view b);

// "Location/ward" that this Location is part of; empty: none.
std::string part_of(const json::Value& location, std::string_view base_url);

// The resource's own status as written; empty: none.
std::string status_of(const json::Value& resource);

struct PatientState {
  std::set<clinical::Identifier> identifiers;
  bool active = true;
  bool replaced = false;   // link of type replaced-by
  std::string replaced_by; // "Patient/x" that it names; empty: none, or not on this server
  bool deceased = false;
  bool test_data = false;  // carries HTEST itself
};
PatientState patient_state(const json::Value& patient, std::string_view base_url = {});

struct TaskBrief {
  std::string status, owner;                 // owner: reference as written, else identifier, else display
  std::optional<clinical::Instant> changed;  // lastModified
};
TaskBrief task_brief(const json::Value& task);

// ---- Bundles

// method PUT: the resource as it stands now; POST: a resource that came without id, or with null `body` a request to look again; DELETE.
struct ResourceEvent {
  std::string method, type, id, version;
  json::Value body;      // references by fullUrl inside the Bundle are turned into Type/id
  std::string base_url;  // of fullUrl, where that is an address; empty: unknown
};

// To each entry of a batch or transaction, in order.
struct EntryAnswer {
  bool accepted = true;
  std::string location;  // "Observation/o1"; empty: none
  fhir::Issues issues;
};

struct Entries {
  std::optional<fhir::Issue> refused;  // no Bundle, of no known type, nested or filled beyond the limits: nothing was taken
  std::vector<ResourceEvent> events;
  std::vector<EntryAnswer> answers;
  fhir::Issues issues;                 // entries, and counts of a notification, that could not be taken; the others were
  std::optional<Notice> notice;        // the Bundle is the notification of a Subscription; what it names without carrying it is asked for (POST, null body)
};

struct BundleLimits {
  int nested = 8;
  std::size_t entries = 200'000;
};

// batch, transaction, collection, history, searchset, message, document, their responses, and subscription notifications of the R4
// backport, R4B and R5. Issues say "Bundle.entry[3].resource".
Entries entries_of(const json::Value& bundle, const BundleLimits& limits = {});

// What is wrong with a body that should be one resource: no object, no resourceType, an id that is none. nullopt: nothing.
std::optional<fhir::Issue> shape_fault(const json::Value& resource, std::string_view at);

// Elements from which facts are read that have another shape than FHIR gives them (a text for a number, "yesterday" for a date), each with its
// path. Only of types that matter here. The resource is taken even so: what cannot be read counts as not recorded.
fhir::Issues element_faults(const json::Value& resource);

// Lines of NDJSON that hold something, in order.
std::vector<std::string_view> ndjson_lines(std::string_view text);

}  // namespace fhir_read
