// Inside transport/: where an absolute URL leads.
#pragma once

#include <boost/system/result.hpp>
#include <cstdint>
#include <string>

#include "transport/network.h"

namespace transport {

struct Destination {
  bool tls = false;
  std::string host;  ///< name or address, IPv6 without brackets
  std::uint16_t port = 0;
  std::string host_field;  ///< value of the Host field
  std::string target;      ///< path and query, at least "/"
  std::string origin;      ///< "https://host:port", key of the pool and beginning of every failure's text

  bool operator==(Destination const&) const = default;
};

/// True for "localhost" and addresses of the loopback networks.
bool is_loopback(std::string const& host);

/// Fails as unusable, or as tls for plain HTTP to another machine.
boost::system::result<Destination, Failure> destination_of(OutgoingRequest const& request);

}  // namespace transport
