// Requests that leave the process, and how they can end. A test puts its own Network in place.
#pragma once

#include <chrono>
#include <functional>
#include <string>
#include <string_view>
#include <variant>

#include "transport/http_message.h"

namespace transport {

struct OutgoingRequest {
  std::string method = "GET";
  /// Absolute "http://..." or "https://...", percent-encoded, without user name. A fragment is not sent.
  std::string url = {};
  /// Host, Content-Length, Transfer-Encoding and Connection are ours and left out here.
  Headers headers = {};
  std::string body = {};
  /// From send() to the whole answer: waiting for a free connection, looking up and connecting included.
  std::chrono::milliseconds timeout = std::chrono::seconds{30};
  std::size_t body_limit = std::size_t{64} << 20;  ///< bytes of the answer's body, inclusive
};

/// Why there is no answer. What the caller does next depends on may_have_arrived() alone; the kind is for people.
/// Stored and logged by name: see name_of().
enum class FailureKind {
  // Nothing left us: sending again is safe.
  unusable,  ///< the request itself cannot be sent (address, method, header field); sending it again cannot help
  resolve,   ///< the host's name was not found
  refused,   ///< nobody listens there
  tls,       ///< no trusted connection: certificate, protocol version, or plain HTTP to another machine
  not_sent,  ///< any other trouble before the first byte, the time running out included
  // Bytes may have arrived: what the server did is not known. Look before sending again.
  maybe_sent,  ///< the connection broke before the answer's end
  timeout,     ///< the time ran out after the first byte was handed to the connection
  protocol,    ///< the answer was not HTTP, or ended early
  too_large,   ///< the answer was larger than the caller takes
};

constexpr bool may_have_arrived(FailureKind kind) { return kind >= FailureKind::maybe_sent; }

/// The enumerator's own name, "maybe_sent".
std::string_view name_of(FailureKind kind);

struct Failure {
  FailureKind kind = FailureKind::not_sent;
  std::string text = {};  ///< one sentence with scheme, host and port, never path or query (they may name a patient)
};

/// Any answer is a Response, also a redirection (not followed) or an error status.
using Outcome = std::variant<Response, Failure>;

struct Network {
  virtual ~Network() = default;
  /// Calls `done` once, never inside this call. `done` must not throw.
  virtual void send(OutgoingRequest request, std::function<void(Outcome)> done) = 0;
};

}  // namespace transport
