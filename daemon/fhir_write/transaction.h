// A change as one FHIR transaction, in two forms: files (every item PUT under its own UUID) and the fence on a server.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "fhir_write/document_reference.h"
#include "json/tree.h"

namespace fhir_write {

struct Work {
  const clinical::CasePlan& plan;
  const clinical::Difference& difference;
  const std::vector<clinical::Standing>& after;  ///< applied(difference, standing): what will stand
  const Sheet* sheet = nullptr;                  ///< needed where the difference creates a document
};

struct Entry {
  std::optional<clinical::ItemKey> key;  ///< none: Binary, Provenance
  std::string identity;                  ///< UUID: value of the item's identifier; id in files, fullUrl in the record form
  json::Value resource;
};

struct Transaction {
  json::Value bundle;                    ///< type transaction
  std::vector<Entry> entries;            ///< one for each entry of the bundle, in its order
};

/// The whole change in one transaction, in the context's form. Deterministic: same arguments, same bytes.
///
/// Form::file: no shell, no ifMatch, each item as PUT {Type}/{UUID}, references by those ids.
/// Form::record: first PUT CarePlan/{id} under ifMatch, even where the CarePlan itself did not change; then new items as POST with fullUrl
/// urn:uuid:{identity}, changed items as PUT {Type}/{id} under ifMatch. The CarePlan must stand on the server: see shell(). Throws
/// std::logic_error where it does not, where an item to be changed is unknown in the context, or where a sheet is wanted and none is given.
Transaction transaction(const WriterContext&, const Work&);

/// POST of the CarePlan as draft without activity; to be sent with If-None-Exist.
struct Shell {
  json::Value resource;
  std::string identity;
  std::string if_none_exist;  ///< value of the header: "identifier=system|uuid", percent-encoded
};
Shell shell(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey& care_plan);

}  // namespace fhir_write
