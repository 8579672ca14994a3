// What a server of ours answers: searchsets, and resources in the version that it gives them.
#pragma once

#include <string>
#include <vector>

#include "json/tree.h"

namespace fhir_write {

/// Bundle of type searchset. `next`: address of the next page; empty: this is the last. `base` without a slash at the end.
json::Value searchset(const std::string& base, const std::string& self, const std::string& next, std::size_t total, const std::vector<json::Value>& found);

/// The resource under that id and version, last changed then (RFC 3339).
json::Value in_version(json::Value resource, const std::string& id, const std::string& version, const std::string& last_updated);

/// What may not be changed in a Task of ours: of whom, which, what it asks for. A sentence; empty: nothing of that was.
std::string changed_for_good(const json::Value& stands, const json::Value& wanted);

/// Entries of a transaction-response, in order.
struct Done {
  std::string status, location, etag;
  json::Value resource;
};
json::Value transaction_response(const std::vector<Done>&);

}  // namespace fhir_write
