// What arrived, as an event for the journal.
#pragma once

#include <string>

#include "fhir_read/intake.h"
#include "store/event.h"

namespace app {

/// `id` empty with a body: a fact under a hash of its content, so that the same content again is a repeat. Empty body: a deletion, or a request to look again.
store::NewEvent journal_event(std::string source, std::string method, std::string type, std::string id, std::string version, std::string body, std::string request_id);
store::NewEvent journal_event(const std::string& source, const fhir_read::ResourceEvent&, const std::string& request_id);

}  // namespace app
