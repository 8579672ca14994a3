// Inside transport/: addresses as people write them.
#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <optional>
#include <string_view>

namespace transport {

/// "127.0.0.1:8181", "[::1]:8181", "localhost:8181" (127.0.0.1). Nothing when it is none of these.
std::optional<boost::asio::ip::tcp::endpoint> parse_endpoint(std::string_view text);

/// 0..65535 in decimal digits only.
std::optional<std::uint16_t> parse_port(std::string_view text);

}  // namespace transport
