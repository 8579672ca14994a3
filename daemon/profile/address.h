// Network addresses as a configuration writes them.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace profile {

/// "127.0.0.1:8181", "[::1]:8181", "localhost:0" with a port of 0 to 65535: host without brackets. None for anything else.
std::optional<std::string> host_of_address(std::string_view address);

struct BaseUrl {
  std::string host;  ///< lower case, without brackets
  bool https = false;
};
/// An absolute http or https URL with host, optional port and path; no user, query, fragment or blank. None for anything else.
std::optional<BaseUrl> parse_base_url(std::string_view url);

struct PrintUri {
  std::string host;  ///< lower case, without brackets
  bool encrypted = false;
};
/// "ipp://host[:port]/path" or "ipps://..."; no user, query, fragment or blank. None for anything else.
std::optional<PrintUri> parse_print_uri(std::string_view uri);

/// localhost, 127.0.0.0/8 and ::1.
bool is_loopback(std::string_view host);

}  // namespace profile
