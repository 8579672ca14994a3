// Inside transport/: one accepted connection, from its first byte to its close.
#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <functional>
#include <memory>

#include "transport/http_server.h"

namespace transport {

class ServerTls;

struct ServerSettings {
  ServerOptions options;
  Handler handler;
  std::shared_ptr<ServerTls> tls = {};  ///< none: plain HTTP
};

class ServerSession {
 public:
  enum class Purpose { serve, refuse };  ///< refuse: wait for a request, answer 503, close

  virtual ~ServerSession() = default;
  /// `on_end` is called once, when the connection is closed and no handler will be called for it.
  virtual void begin(Purpose purpose, std::function<void()> on_end) = 0;
  /// Closes at once when idle, else after the answer to the current request. From any thread.
  virtual void finish_soon() = 0;
  /// Closes whatever is under way. From any thread.
  virtual void close_now() = 0;
};

std::shared_ptr<ServerSession> make_server_session(boost::asio::ip::tcp::socket socket, std::shared_ptr<ServerSettings const> settings);

}  // namespace transport
