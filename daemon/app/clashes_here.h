// Clashes of orders that the record takes none of: served here from the commit on in which they were found, so that they hold up nothing else.
#pragma once

#include <vector>

#include "app/compose.h"
#include "app/lanes.h"
#include "fhir_write/context.h"

namespace app {

/// A record that is written to itself, and keeps DetectedIssues as far as it takes them.
inline bool clashes_may_be_here(const Rules& rules) { return rules.configuration.record && rules.configuration.record->mode != "shadow" && !is_served(rules, "DetectedIssue"); }

/// One that the record has refused stands under its identity as id.
inline bool is_clash_here(const store::Item& item) { return item.type == "DetectedIssue" && item.server_id == item.identity; }

struct ClashesHere {
  const ComposeInput& in;
  fhir_write::WriterContext writer;
  const clinical::CasePlan& plan;
  const std::vector<clinical::Standing>& standing;
};
/// Takes them out of the difference and gives them as they stand from now on.
std::vector<store::Item> take_clashes_here(clinical::Difference&, const ClashesHere&);

}  // namespace app
