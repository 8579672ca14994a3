// A TLS server for one connection, with a certificate made on the spot; OpenSSL alone, nothing of daemon/.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <thread>

#include "transport/sockets_support.h"

namespace sockets {

struct TlsServerOptions {
  std::string name = "localhost";  ///< the DNS name in the certificate
  int seconds_valid = 3600;        ///< from now; negative: already expired
  int highest_version = 0;         ///< such as TLS1_1_VERSION; 0: the newest
};

/// Shakes hands with one client, reads to the end of the request's header and sends the answer.
class TlsServer {
 public:
  TlsServer(std::string answer, TlsServerOptions options = {});
  ~TlsServer();
  std::uint16_t port() const { return listener_.port(); }
  /// PEM file with the server's own certificate, to be trusted by a client.
  std::string const& certificate_file() const { return file_; }
  /// The name that the client asked for (SNI) and its request's header; call once, waits for the end of the connection.
  std::string request();

 private:
  struct Secrets;
  void serve();
  Server listener_;
  std::string answer_, request_, file_;
  std::unique_ptr<Secrets> secrets_;
  std::thread thread_;
};

}  // namespace sockets
