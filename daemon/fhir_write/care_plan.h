// The CarePlan: the Tasks released, and the whole timetable in its narrative.
#pragma once

#include <vector>

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

/// As it is to stand. `after`: every item as it will stand once this write is in place; its Tasks that we have not withdrawn are the
/// activities. `created` is kept from the body on the server.
json::Value care_plan(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&, const std::vector<clinical::Standing>& after);
/// The fence before its first use: draft, no activity, nothing to act on.
json::Value care_plan_shell(const WriterContext&, const clinical::CasePlan&, const clinical::ItemKey&);
/// The body on the server with status revoked. Throws std::logic_error when the context has no body for the key.
json::Value revoked_care_plan(const WriterContext&, const clinical::ItemKey&, const clinical::Reason& why);

}  // namespace fhir_write
