// How long a server wants to be left alone.
#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string_view>

#include "transport/http_message.h"

namespace transport {

/// Of the header Retry-After in both forms (RFC 9110, section 10.2.3): a number of seconds, or a date, which is measured against the Date of the same answer and
/// so needs no clock of ours. A day at most; 0 where there is none or the date has passed; a date without a Date beside it is taken as one minute.
std::chrono::seconds retry_after(Response const& response);

/// "Sun, 06 Nov 1994 08:49:37 GMT" as seconds since 1970, UTC; none for anything else (the obsolete forms included).
std::optional<std::int64_t> seconds_of_http_date(std::string_view text);

}  // namespace transport
