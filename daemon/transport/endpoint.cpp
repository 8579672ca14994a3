#include "transport/endpoint.h"

#include <charconv>
#include <string>

namespace net = boost::asio;

namespace transport {

std::optional<std::uint16_t> parse_port(std::string_view text) {
  std::uint16_t port = 0;
  auto const* const end = text.data() + text.size();
  auto const [stop, error] = std::from_chars(text.data(), end, port);
  if (text.empty() || error != std::errc{} || stop != end) return std::nullopt;
  return port;
}

std::optional<net::ip::tcp::endpoint> parse_endpoint(std::string_view text) {
  auto const colon = text.rfind(':');
  if (colon == std::string_view::npos) return std::nullopt;
  auto const port = parse_port(text.substr(colon + 1));
  auto host = text.substr(0, colon);
  bool const bracketed = host.size() > 2 && host.front() == '[' && host.back() == ']';
  if (bracketed) host = host.substr(1, host.size() - 2);
  if (host == "localhost") host = "127.0.0.1";
  boost::system::error_code error;
  auto const address = net::ip::make_address(std::string(host), error);
  if (!port || error || address.is_v6() != bracketed) return std::nullopt;
  return net::ip::tcp::endpoint(address, *port);
}

}  // namespace transport
