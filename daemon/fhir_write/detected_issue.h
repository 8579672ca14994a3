// An order that clashes with the plan, as DetectedIssue: raised while it clashes, ended with the reason when it no longer does.
#pragma once

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

/// An item of kind order_clash. What somebody else added to the one that stands is kept.
json::Value detected_issue(const WriterContext&, const clinical::CasePlan&, const clinical::Item&);

/// As it stands on the server, with a mitigation of ours beside those of people: the reason. R4 has no status for it, so that it stays final; where the
/// whole case is closed it is cancelled, and entered in error where it was never this patient's. Throws std::logic_error where it is not known there.
json::Value ended_issue(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&, const clinical::Reason&);

/// Either of them with its id and key, as it is served here.
json::Value issue_served(const WriterContext&, const clinical::CasePlan&, const clinical::Change&);

}  // namespace fhir_write
