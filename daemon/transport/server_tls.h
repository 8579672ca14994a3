// Inside transport/: certificate and key of a listener, read anew when their files change.
#pragma once

#include <boost/asio/ssl/context.hpp>
#include <boost/system/result.hpp>
#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "transport/http_server.h"

namespace transport {

/// Thread-safe.
class ServerTls {
 public:
  /// Fails with a sentence when a file cannot be read, key and certificate do not belong together, or the authorities are empty.
  static boost::system::result<std::shared_ptr<ServerTls>, StartError> load(ServerTlsFiles files, std::function<void(std::string_view)> on_trouble);

  /// For the next connection. Looks at the files at most once a second; where the new ones cannot be used, the old stay and on_trouble is told once.
  std::shared_ptr<boost::asio::ssl::context> current();
  /// Why the files as they stand cannot be used, while they cannot; empty: they are in use.
  std::string trouble();
  /// End of the certificate in use, seconds since 1970, UTC.
  std::int64_t expires();
  /// Whether clients can accept the certificate today.
  bool in_force();
  /// Whether this verified subject may come in, the order of its parts left aside: any, where none is named.
  bool admits(std::string_view subject) const;
  bool asks_for_certificate() const { return !files_.client_authorities.empty(); }

 private:
  ServerTls(ServerTlsFiles files, std::function<void(std::string_view)> on_trouble) : files_(std::move(files)), on_trouble_(std::move(on_trouble)) {}
  boost::system::result<void, StartError> read();
  std::string stamp() const;

  const ServerTlsFiles files_;
  const std::function<void(std::string_view)> on_trouble_;
  std::mutex mutex_;  // guards what follows
  std::shared_ptr<boost::asio::ssl::context> context_;
  std::int64_t expires_ = 0;
  std::string stamp_, trouble_;
  std::chrono::steady_clock::time_point looked_{};
};

/// Subject of the peer's verified certificate as RFC 2253 writes it ("CN=record,O=hospital"), UTF-8; empty without one.
std::string subject_of_peer(SSL* connection);

}  // namespace transport
