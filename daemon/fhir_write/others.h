// What somebody else has put into a resource of ours stays in it when we write it anew: read, our own elements changed, written.
#pragma once

#include <span>
#include <string_view>

#include "json/tree.h"

namespace fhir_write {

/// Into `ours`, from the resource as it stands on the server: identifiers, tags, labels and profiles of other systems, extensions that are not ours.
/// A null `there`: nothing.
void keep_labels_of_others(json::Value& ours, const json::Value& there);

/// Whole elements that we never write: everything of `there` that `ours` lacks and that is not among `own`, which are the elements that we write at
/// times (one that is missing from `ours` was taken away on purpose). Unknown properties and their digits included.
void keep_elements_of_others(json::Value& ours, const json::Value& there, std::span<const std::string_view> own);

}  // namespace fhir_write
