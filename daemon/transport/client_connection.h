// Inside transport/: one connection to one origin, and one exchange at a time on it.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <memory>
#include <optional>

#include "transport/destination.h"

namespace boost::asio::ssl {
class context;
}

namespace transport {

struct Exchange {
  Outcome outcome;
  bool answer_began = false;  ///< at least one byte of an answer came
  bool reusable = false;      ///< the connection may serve another request
};

/// All members on the executor given.
class ClientConnection {
 public:
  explicit ClientConnection(boost::asio::any_io_executor const& executor);
  ~ClientConnection();

  /// Looks up, connects and, with a context, shakes hands. Nothing is the good end.
  boost::asio::awaitable<std::optional<Failure>> open(Destination const& to, std::chrono::milliseconds patience, boost::asio::ssl::context* tls);
  /// Sends the request and reads the answer. Has no time limit of its own: close() ends it.
  boost::asio::awaitable<Exchange> exchange(OutgoingRequest const& request, Destination const& to);

  /// False when the server has closed or has sent something unasked.
  bool is_quiet() const;
  void close();

 private:
  struct Streams;
  std::unique_ptr<Streams> streams_;
};

/// Trusts the authorities in the file, or the system's when it is empty; TLS 1.2 and later. Shows the certificate, where one is named.
boost::system::result<std::shared_ptr<boost::asio::ssl::context>, Failure> make_tls_context(std::string const& ca_file, std::string const& certificate_file,
                                                                                          std::string const& key_file);

}  // namespace transport
