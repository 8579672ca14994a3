// The Network over real sockets: HTTP/1.1, plain to loopback addresses, through TLS elsewhere.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "transport/io.h"
#include "transport/network.h"

namespace transport {

struct ClientOptions {
  /// Requests under way at once to one origin (scheme, host, port); further ones wait in order.
  std::size_t max_parallel = 4;
  /// Requests that may wait for one origin; one more fails at once as not_sent.
  std::size_t max_waiting = 1024;
  /// For looking up, connecting and the TLS handshake; the request's own timeout counts as well.
  std::chrono::milliseconds connect_timeout = std::chrono::seconds{10};
  /// An unused connection is closed after this. Below the 5 s after which some servers close it themselves, because a
  /// POST that crosses such a close ends as maybe_sent.
  std::chrono::milliseconds idle_timeout = std::chrono::seconds{4};
  /// PEM file of trusted authorities; empty: the system's. Read at the first https request, and anew when it changes: connections that stand keep what they began with.
  std::string ca_file = {};
  /// PEM files of our own certificate (with its chain) and its key, shown to servers that ask; empty: none. Read likewise; where the new ones cannot be used the old stay.
  std::string certificate_file = {};
  std::string key_file = {};
};

/// End of the first certificate in a PEM file, seconds since 1970, UTC; none: there is none, or it cannot be read.
std::optional<std::int64_t> certificate_end(std::string const& pem_file);

/// Why these PEM files cannot be used, in a sentence; empty: they can.
std::string trouble_with_files(const ClientOptions& options);

/// Keeps connections open per origin. A connection that the server has closed meanwhile is noticed before use; when one
/// fails all the same before the first byte of the answer, GET and HEAD are tried once more on a new connection, others
/// end as maybe_sent. send() may be called from any thread; callbacks run on an I/O thread, one at a time.
/// Destruction (not on an I/O thread) waits for a running callback and drops the others.
class HttpClient final : public Network {
 public:
  explicit HttpClient(Io& io, ClientOptions options = {});
  ~HttpClient() override;
  void send(OutgoingRequest request, std::function<void(Outcome)> done) override;

 private:
  class Pool;
  Io& io_;
  std::shared_ptr<Pool> pool_;
};

}  // namespace transport
