// The current resources of one patient, and those they refer to. Owns their bodies.
#pragma once

#include "clinical/facts.h"
#include "fhir/reference.h"
#include "json/tree.h"

#include <deque>
#include <map>
#include <set>
#include <string>
#include <string_view>

namespace fhir_read {

// `source` keeps equal ids of two servers apart; `base_url` is that server's address, empty when unknown. `version` is meta.versionId or
// what the store counts instead.
struct Resource {
  std::string source, base_url;
  std::string type, id, version;
  json::Value body;

  std::string key() const { return type + "/" + id; }
  clinical::Source fact_source(bool low_confidence = false) const { return {key(), version, low_confidence}; }
  // "Observation/o1.valueQuantity"
  std::string at(std::string_view path) const { return path.empty() ? key() : key() + "." + std::string(path); }
};

// subject, patient or for. R5 allows a List several subjects: one is that one, several that differ are nobody's (the list itself is returned).
const json::Value& subject_element(const json::Value& resource);

class ResourceSet {
 public:
  // `patient`: "Patient/x"; `merged`: others that the record has merged into it, whose facts are its own. Resources of anybody else are reported
  // and not read.
  explicit ResourceSet(std::string patient, std::set<std::string> merged = {}) : patient_(std::move(patient)), merged_(std::move(merged)) {}

  const std::string& patient() const { return patient_; }
  bool is_about(const std::string& patient) const { return patient == patient_ || merged_.contains(patient); }
  // The later of two with the same source, type and id replaces the earlier.
  void add(Resource resource);
  const std::deque<Resource>& all() const { return resources_; }

  // Target of a Reference element that stands in `from`: contained, on the same server, or by its full address. nullptr when not held.
  const json::Value* resolve(const json::Value& reference, const Resource& from) const;
  const Resource* find(std::string_view source, std::string_view key) const;

 private:
  std::string patient_;
  std::set<std::string> merged_;
  std::deque<Resource> resources_;
  std::map<std::pair<std::string, std::string>, std::size_t> index_;  // source, key
};

}  // namespace fhir_read
