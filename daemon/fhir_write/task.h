// Tasks: the released steps, requests for facts, calls, and requests to stop.
#pragma once

#include <optional>

#include "clinical/change.h"
#include "fhir_write/context.h"
#include "json/tree.h"

namespace fhir_write {

/// A Task as it is to stand. `replaces`: the claimed Task it takes the place of; of a cancellation: the Task to stop.
/// authoredOn is kept from the body on the server.
json::Value task(const WriterContext&, const clinical::CasePlan&, const clinical::Item&, const std::optional<clinical::ItemKey>& replaces);

/// The body on the server with status cancelled and the reason. Throws std::logic_error when the context has no body for the key.
json::Value cancelled_task(const WriterContext&, const clinical::ItemKey&, const clinical::Reason& why);

}  // namespace fhir_write
