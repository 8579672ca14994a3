// How long a server wants to be left alone.
#pragma once

#include <algorithm>
#include <chrono>
#include <string>

#include "transport/http_message.h"

namespace app {

/// Of the header Retry-After: "120" seconds, a day at most; an HTTP date tells a length only with a clock and is taken as one minute. None: 0.
inline std::chrono::seconds retry_after(const transport::Response& response) {
  const auto value = response.headers.get("Retry-After");
  if (!value || value->empty()) return std::chrono::seconds{0};
  if (!std::all_of(value->begin(), value->end(), [](char c) { return c >= '0' && c <= '9'; })) return std::chrono::seconds{60};
  return std::chrono::seconds{value->size() > 5 ? 86400 : std::min(86400, std::stoi(std::string(*value)))};
}

}  // namespace app
