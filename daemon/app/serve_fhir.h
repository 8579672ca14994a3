// The public side of what is served here: reads, searches and changes of Tasks beside the intake, under the same proof of who asks.
#pragma once

#include "app/engine.h"
#include "transport/http_handler.h"

namespace app {

/// GET /fhir/{CarePlan|DetectedIssue|GuidanceResponse|Provenance|Task}[/id][?search], POST /fhir/{type}/_search, PUT /fhir/Task/{id} of a Task that is served, and
/// GET /fhir/SearchParameter/task-restriction-period. Everything else goes to `intake`, and so does all of it where the record takes Tasks itself.
transport::Handler with_served(Engine&, Executor&, const Rules&, transport::Handler intake);

}  // namespace app
