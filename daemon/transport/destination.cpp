#include "transport/destination.h"

#include <boost/asio/ip/address.hpp>
#include <boost/url/parse.hpp>
#include <boost/url/url_view.hpp>

#include "transport/endpoint.h"

namespace urls = boost::urls;

namespace transport {
namespace {

Failure unusable(std::string text) { return {FailureKind::unusable, std::move(text)}; }

/// Nothing when the request can be written as HTTP.
std::optional<Failure> objection(OutgoingRequest const& request) {
  if (!is_token(request.method)) return unusable("The method is not a token.");
  for (auto const& [name, value] : request.headers)
    if (!is_token(name) || !is_header_value(value)) return unusable("A header field cannot be sent: \"" + name + "\".");
  return std::nullopt;
}

}  // namespace

bool is_loopback(std::string const& host) {
  boost::system::error_code error;
  auto const address = boost::asio::ip::make_address(host, error);
  return error ? equal_ignoring_case(host, "localhost") : address.is_loopback();
}

boost::system::result<Destination, Failure> destination_of(OutgoingRequest const& request) {
  if (auto failure = objection(request)) return std::move(*failure);
  auto const parsed = urls::parse_uri(request.url);
  if (!parsed) return unusable("The address is not an absolute URL.");
  urls::url_view const url = *parsed;
  bool const tls = url.scheme_id() == urls::scheme::https;
  if (!tls && url.scheme_id() != urls::scheme::http) return unusable("The address begins with neither http:// nor https://.");
  if (url.has_userinfo()) return unusable("The address carries a user name, which is not sent this way.");
  // Boost.URL 1.81 reads "10.0.0.1.example" as the address 10.0.0.1 and a path.
  std::string const path(url.encoded_path());
  if (!path.empty() && path.front() != '/') return unusable("The address's host begins like an IP address but is none.");
  Destination to{.tls = tls, .host = std::string(url.host_address()), .port = 0, .host_field = {}, .target = {}, .origin = {}};
  if (to.host.empty()) return unusable("The address names no host.");
  auto const port = url.port().empty() ? (tls ? 443 : 80) : parse_port(std::string_view(url.port().data(), url.port().size()));
  if (!port || *port == 0) return unusable("The address has no usable port.");
  to.port = *port;
  to.host_field = std::string(url.encoded_host());
  to.origin = (tls ? "https://" : "http://") + to.host_field + ":" + std::to_string(to.port);
  if (to.port != (tls ? 443 : 80)) to.host_field += ":" + std::to_string(to.port);
  to.target = path.empty() ? "/" : path;
  if (url.has_query()) to.target += "?" + std::string(url.encoded_query());
  if (!tls && !is_loopback(to.host)) return Failure{FailureKind::tls, to.origin + ": plain HTTP is for loopback addresses only; use https."};
  return to;
}

}  // namespace transport
