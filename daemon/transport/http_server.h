// An HTTP/1.1 server on one address. Usage:
//   HttpServer server(io, {.address = "127.0.0.1:0"}, [](Request request, Reply reply) { reply({.status = 204}); });
//   if (auto started = server.start(); !started) complain(started.error().text);
#pragma once

#include <boost/system/result.hpp>
#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "transport/http_handler.h"
#include "transport/io.h"

namespace transport {

/// PEM files of a TLS listener. They are read anew when they change; connections that stand keep what they began with.
struct ServerTlsFiles {
  std::string certificate;         ///< the server's own, then the authorities between it and the root
  std::string key;                 ///< without a password
  std::string client_authorities;  ///< not empty: every client must show a certificate of one of them
  std::vector<std::string> client_subjects;  ///< "CN=record,O=hospital", the parts in any order; not empty: nobody else is let in
};

struct ServerOptions {
  /// "127.0.0.1:8181", "[::1]:8181" or "localhost:8181" (the IPv4 one). Port 0 takes any free port. Without TLS only
  /// loopback addresses are accepted.
  std::string address = "127.0.0.1:8181";
  /// TLS 1.2 and later; none: plain HTTP.
  std::optional<ServerTlsFiles> tls = {};
  /// Bytes of one request's body, inclusive; more is answered 413.
  std::size_t body_limit = std::size_t{64} << 20;
  /// Bytes of all bodies together that are being read or answered, those of at most `small_body` left out; a body beyond it is answered 503 with Retry-After.
  /// So nobody fills the memory over many connections, and small ones are heard whatever large ones do.
  std::size_t bodies_limit = std::size_t{256} << 20;
  std::size_t small_body = std::size_t{1} << 20;
  /// Bytes of request line and header fields, inclusive; more is answered 431.
  std::uint32_t header_limit = std::uint32_t{32} << 10;
  /// From a request's first byte to its last. A client that takes longer is disconnected without an answer.
  std::chrono::milliseconds read_timeout = std::chrono::seconds{60};
  /// For one whole answer to be taken by the client.
  std::chrono::milliseconds write_timeout = std::chrono::seconds{60};
  /// From opening, or the end of an answer, to the next request's first byte.
  std::chrono::milliseconds idle_timeout = std::chrono::seconds{60};
  /// From opening to the first byte of the first request, where that is shorter: who says nothing holds a place for less long than who has spoken.
  std::chrono::milliseconds first_byte_timeout = std::chrono::seconds{10};
  /// For the handler; afterwards the client gets 503 (its request may still have been acted on).
  std::chrono::milliseconds answer_timeout = std::chrono::seconds{120};
  /// Connections served at once, idle ones included; one more is answered 503 with Retry-After and closed.
  std::size_t max_connections = 512;
  /// Of these from one address; one more is answered the same, and nobody else is kept out. Behind a proxy all come from one.
  std::size_t max_per_address = 512;

  /// Asked with request line and header fields of a request that has a body, before any of the body is read: a status and a sentence to refuse it
  /// with (then the connection closes), or nothing. Called on an I/O thread; must not throw.
  std::function<std::optional<std::pair<int, std::string>>(Request const& head)> refuse_head = {};
  /// Told of a request whose head was let in and whose body is not taken because it is larger than body_limit (413) or in a transfer
  /// coding other than chunked (501). Called on an I/O thread; must not throw.
  std::function<void(Request const& head)> on_too_large = {};
  /// Bodies with a content coding (gzip) go to the handler as they came, which sees Content-Encoding; else they are answered 415.
  bool coded_bodies = false;
  /// Makes the answer to what the server refuses itself: 400, 413, 415, 417, 431, 500, 501, 503. Gets status and a
  /// sentence. Status and Connection of what it returns are overridden; other fields are kept. Without it the answer is
  /// the sentence as plain text. Called on an I/O thread; must not throw.
  std::function<Response(int status, std::string_view why)> on_protocol_error = {};
  /// Told of trouble that no client answers for: a handler that threw, no file descriptors left. Called on an I/O thread.
  std::function<void(std::string_view what)> on_trouble = {};
};

/// Why a listener could not speak TLS with these files, in a sentence; empty: it could.
std::string trouble_with_files(ServerTlsFiles const& files);

/// Why a server did not start: a sentence with the address in it.
struct StartError {
  std::string text;
};
[[noreturn]] void throw_exception_from_error(StartError const& error, boost::source_location const& where);

/// One request at a time per connection: a pipelined request waits until the one before it is answered. Keep-alive and
/// Expect: 100-continue as RFC 9110 and 9112 have them; the answer to HEAD goes without its body. Compressed bodies
/// (Content-Encoding) are never unpacked. Destruction stops firmly. Not to be stopped or destroyed on an I/O thread.
class HttpServer {
 public:
  HttpServer(Io& io, ServerOptions options, Handler handler);
  ~HttpServer();
  HttpServer(HttpServer const&) = delete;
  HttpServer& operator=(HttpServer const&) = delete;

  /// Binds and listens; requests are served as soon as the Io runs. Once. On failure nothing is left open.
  boost::system::result<void, StartError> start();

  /// End of the certificate in use, seconds since 1970, UTC; none without TLS or before start.
  std::optional<std::int64_t> certificate_expires() const;

  /// Why a changed certificate cannot be used, while it cannot; empty without TLS or before start.
  std::string certificate_trouble() const;

  /// The bound port; 0 before start.
  std::uint16_t port() const;

  /// Stops accepting, closes idle connections, lets requests under way be read and answered for at most `grace`, then
  /// closes what is left. Returns when no handler runs and none will be called; answers given later are dropped.
  void stop(std::chrono::milliseconds grace);

 private:
  class Listener;
  std::shared_ptr<Listener> listener_;
};

}  // namespace transport
