// Answers of the intake: OperationOutcome, the response to a batch or transaction, the CapabilityStatement.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "fhir/issue.h"
#include "json/tree.h"

namespace fhir_write {

/// `code` of each issue becomes details.coding-free text; issue.code is the FHIR issue type `type` ("invalid", "too-long", "not-found", ...).
json::Value operation_outcome(std::string_view type, const fhir::Issues& issues);
json::Value operation_outcome(std::string_view type, std::string_view text, std::string_view at = {});

/// One line of a response Bundle: what became of the entry at the same place in the request.
struct EntryAnswer {
  std::string status;    ///< "200 OK"
  std::string location;  ///< "Observation/o1"; empty: none
  json::Value outcome;   ///< OperationOutcome; null: none
};
json::Value response_bundle(bool transaction, std::span<const EntryAnswer> entries);

struct Served {
  std::string version;        ///< of this program
  std::string date;           ///< of the build or start, RFC 3339
  std::string implementation; ///< one line about this installation
};
/// A parameter that resources of that type can be searched by.
struct Searchable {
  std::string_view type, name, kind;  ///< kind: "token", "reference", "date"
  std::string_view definition;        ///< canonical; empty: HL7's own
};
/// `searchable` empty: nothing is served for reading. Else its types can be read and searched too, and Tasks updated under their version.
json::Value capability_statement(const Served&, std::span<const std::string> types_read, std::span<const Searchable> searchable = {});

}  // namespace fhir_write
