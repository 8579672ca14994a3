// The public listener: HTTP requests into journalled events.
#pragma once

#include <functional>

#include "app/engine.h"
#include "transport/http_handler.h"

namespace app {

/// Answers only after what the request brings is durable. Body limits, malformed HTTP and timeouts are the server's business.
/// `started`: RFC 3339, for the CapabilityStatement.
transport::Handler intake_handler(Engine&, const Rules&, std::string started);

/// For ServerOptions::on_too_large: what was to be told at a hook has happened all the same, and the record is asked what it was.
std::function<void(const transport::Request& head)> look_for_what_is_too_large(Engine&, const Rules&, Log&);

/// An OperationOutcome as an HTTP answer.
transport::Response outcome_response(int status, std::string_view type, std::string_view text, std::string_view at = {});

}  // namespace app
