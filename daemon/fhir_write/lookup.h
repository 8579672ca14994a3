// After a write whose answer never came: what to ask the server, and the answer it would have given.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "fhir_write/verify.h"
#include "json/tree.h"

namespace fhir_write {

/// One entry of a transaction that was sent. `query` is to be appended to the base URL with GET: "Task?identifier=..." for a new item, "Task/id" for a
/// changed one; empty for what has no identity of its own (Binary, Provenance).
struct Lookup {
  std::string type, identity;
  std::string query;
  bool created = false;
  std::string status;    ///< that was sent
  std::string if_match;  ///< of a changed one: the version it had before; still there means that nothing was done
};
std::vector<Lookup> lookups(const json::Value& request_bundle);

/// Under which a response names an entry of a request: its item's identity, else the UUID in its fullUrl; empty: neither.
std::string identity_in(const json::Value& request_entry);

/// The resource in a search set or the resource itself; none where there is none. More than one match: the first, servers differ in order.
std::optional<Placed> found(const json::Value& answer, const std::string& identity);

/// A transaction-response as the server would have given it, in the request's order; entries without identity get a placeholder id.
/// `stands`: resources as they were found, by identity; they go along as the response's.
json::Value rebuilt_response(const json::Value& request_bundle, const std::vector<Placed>& found, const std::map<std::string, json::Value>& stands = {});
/// The resource that `found` spoke of; null where there is none.
json::Value resource_of(const json::Value& answer, const std::string& identity);

/// Adds what was found; with a DocumentReference also its Binary, which has no identifier to be asked by: its attachments name it.
void add_found(std::vector<Placed>&, const Placed&, const json::Value& request_bundle, const json::Value& answer);

/// A transaction that a server must refuse: the resource as it stands, under a version of the same form that it cannot have.
json::Value stale_update(json::Value resource, const std::string& id, std::string etag);

/// Nobody has worked on a Task since we wrote it: state, owner, notes, outputs, times of work and the business's own state are what we sent.
/// True for other types: there a version tells.
bool as_we_sent(const json::Value& sent, const json::Value& stands);

/// What stands is what we sent, element by element: numbers by their value, narrative and what a server adds (id, meta) left aside. An element more
/// or less is somebody else's work.
bool same_content(const json::Value& sent, const json::Value& stands);

/// The identity by its identifier, else by its tag (Binary, Provenance); none: not one of ours.
std::optional<std::string> identity_of_ours(const json::Value& resource);
/// The resource with that identity as a tag, in a searchset; for what has no identifier (Binary).
std::optional<Placed> found_by_tag(const json::Value& searchset, const std::string& identity);

/// References to resources of these types, which stand under their identity as id on another server, by identifier. Others stay.
json::Value by_identifier(json::Value resource, const std::vector<std::string>& elsewhere);

/// A Provenance that has it among its targets.
bool is_about(const json::Value& provenance, const std::string& reference);

/// When a Task was first written, as it says; none: it does not.
std::optional<clinical::Instant> authored(const json::Value& task);

}  // namespace fhir_write
