#include "profile/address.h"

#include <algorithm>
#include <cctype>

namespace profile {
namespace {

bool is_port(std::string_view text) {
  if (text.empty() || text.size() > 5 || text.find_first_not_of("0123456789") != std::string_view::npos) return false;
  int port = 0;
  for (const char c : text) port = port * 10 + (c - '0');
  return port <= 65535;
}

struct HostPort {
  std::string_view host, port;  // port empty: none
};
std::optional<HostPort> split(std::string_view text) {
  const bool brackets = text.starts_with('[');
  const auto end = brackets ? text.find(']') : text.find(':');
  if (brackets && end == std::string_view::npos) return std::nullopt;
  const HostPort parts{text.substr(brackets ? 1 : 0, brackets ? end - 1 : end), end == std::string_view::npos ? "" : text.substr(end + (brackets ? 1 : 0))};
  const auto allowed = [&](unsigned char c) { return std::isalnum(c) != 0 || c == '.' || c == '-' || (brackets && c == ':'); };
  if (parts.host.empty() || !std::all_of(parts.host.begin(), parts.host.end(), allowed)) return std::nullopt;
  if (parts.port.empty()) return parts;
  if (!parts.port.starts_with(':') || !is_port(parts.port.substr(1))) return std::nullopt;
  return HostPort{parts.host, parts.port.substr(1)};
}

std::string lower(std::string_view text) {
  std::string out{text};
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

// Lower case; empty: there is none.
std::string scheme_of(std::string_view url) {
  const auto end = url.find("://");
  return end == std::string_view::npos ? std::string() : lower(url.substr(0, end));
}

std::optional<std::string> host_after(std::string_view url, const std::string& scheme) {
  if (scheme.empty()) return std::nullopt;
  const std::string_view rest = url.substr(scheme.size() + 3);
  if (rest.find_first_of("?#@ \t\"<>\\") != std::string_view::npos) return std::nullopt;
  const auto parts = split(rest.substr(0, rest.find('/')));
  return parts ? std::optional(lower(parts->host)) : std::nullopt;
}

}  // namespace

std::optional<std::string> host_of_address(std::string_view address) {
  const auto parts = split(address);
  if (!parts || parts->port.empty()) return std::nullopt;
  return lower(parts->host);
}

std::optional<BaseUrl> parse_base_url(std::string_view url) {
  const auto scheme = scheme_of(url);
  const auto host = host_after(url, scheme);
  if (!host || (scheme != "http" && scheme != "https")) return std::nullopt;
  return BaseUrl{*host, scheme == "https"};
}

std::optional<PrintUri> parse_print_uri(std::string_view uri) {
  const auto scheme = scheme_of(uri);
  const auto host = host_after(uri, scheme);
  if (!host || (scheme != "ipp" && scheme != "ipps") || uri.find('/', scheme.size() + 3) == std::string_view::npos) return std::nullopt;
  return PrintUri{*host, scheme == "ipps"};
}

bool is_loopback(std::string_view host) {
  if (host == "localhost" || host == "::1") return true;
  return host.starts_with("127.") && host.find_first_not_of("0123456789.") == std::string_view::npos && std::count(host.begin(), host.end(), '.') == 3;
}

}  // namespace profile
