// Items as the store keeps them <-> items as the difference is taken between.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/seams.h"
#include "clinical/change.h"
#include "fhir_write/context.h"
#include "store/case.h"

namespace app {

/// What stands, by the confirmed state of each item. Rows that were never confirmed are left out.
std::vector<clinical::Standing> standing_of(const std::vector<store::Item>&);
/// Server id, etag and body of each, for the writer.
std::map<clinical::ItemKey, fhir_write::OnServer> on_server(const std::vector<store::Item>&);

/// The row of an item that is as `standing` says.
store::Item row_of(const clinical::Standing&, const std::string& case_key, const std::string& identity, const std::string& type);

/// Which item of its case a row is; none: not one that a difference knows.
std::optional<clinical::ItemKey> key_of(const store::Item&);

/// Somebody else has written this Task: claimed, or ended with this status at that instant.
void mark_touched(store::Item&, std::string_view task_status, const std::string& by, std::optional<Millis> ended);

/// A list of rows as one text, and back: kept beside a write until the record has answered.
std::string text_of(const std::vector<store::Item>&);
std::vector<store::Item> items_from(std::string_view text);

}  // namespace app
