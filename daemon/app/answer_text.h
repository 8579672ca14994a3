// What the record said to a write that it did not take, in words that may be kept. Its free text (OperationOutcome.issue.diagnostics, a proxy's page) can
// hold names of patients and secrets: it goes into the store beside the write, masked, and never into log, alarms or /status.
#pragma once

#include <string>

#include "transport/http_message.h"

namespace app {

/// "the record answered 422: invalid at Task.owner (Unknown reference) | It said: ...". Before " | ": status, issue codes, elements, coded words.
std::string said_by_record(const transport::Response&);
/// The part that may be logged.
std::string for_log(const std::string& said);

}  // namespace app
