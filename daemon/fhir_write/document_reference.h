// The bedside sheet in the record: DocumentReference and its Binary.
#pragma once

#include <optional>
#include <string>

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

struct Sheet {
  std::string pdf;  ///< the file's bytes
};

/// `key.ordinal` is the number of the sheet. `replaces`: the sheet before.
json::Value document_reference(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&, const Sheet&, const std::optional<clinical::ItemKey>& replaces);
/// The body on the server with status superseded, or entered-in-error where no newer sheet takes its place. Throws std::logic_error when
/// the context has no body for the key.
json::Value ended_document(const WriterContext&, const clinical::ItemKey&, bool newer_sheet);

json::Value binary(const WriterContext&, const clinical::CasePlan&, const Sheet&);
/// Of the Binary that belongs to a sheet.
std::string binary_identity(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey& sheet);

}  // namespace fhir_write
