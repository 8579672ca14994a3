#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "app/rules.h"
#include "transport/http_message.h"

namespace app {

/// File that holds the addresses of both listeners while a daemon has this store open: {"public", "admin"}.
std::filesystem::path ports_beside(std::filesystem::path store);
/// One request to the admin listener of a running daemon; none when nobody listens there.
std::optional<transport::Response> ask_daemon(const Rules&, const std::string& method, const std::string& target);

}  // namespace app
