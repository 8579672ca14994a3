#pragma once

#include <optional>
#include <string>

#include "app/rules.h"
#include "transport/http_message.h"

namespace app {

/// One request to the admin listener of a running daemon; none when nobody listens there.
std::optional<transport::Response> ask_daemon(const Rules&, const std::string& method, const std::string& target);

}  // namespace app
