// Inside transport/: one accepted connection, from its first byte to its close.
#pragma once

#include <algorithm>
#include <atomic>
#include <boost/asio/ip/tcp.hpp>
#include <functional>
#include <memory>
#include <utility>

#include "transport/http_server.h"

namespace transport {

class ServerTls;

struct ServerSettings {
  ServerOptions options;
  Handler handler;
  std::shared_ptr<ServerTls> tls = {};  ///< none: plain HTTP
  std::atomic<std::size_t> bodies = 0;  ///< bytes of all bodies that are not small, of all sessions
};

/// What one body takes of what all may hold together; given back when it goes.
class BodyShare {
 public:
  explicit BodyShare(std::shared_ptr<ServerSettings> settings) : settings_(std::move(settings)) {}
  ~BodyShare() { settings_->bodies -= taken_; }
  BodyShare(BodyShare const&) = delete;
  BodyShare& operator=(BodyShare const&) = delete;
  /// False: there is no room for that many bytes of this body; what it has it keeps.
  bool grow_to(std::size_t bytes) {
    auto const& options = settings_->options;
    if (bytes <= std::max(taken_, options.small_body)) return true;
    auto const more = bytes - taken_;
    if (settings_->bodies.fetch_add(more) + more > options.bodies_limit) {
      settings_->bodies -= more;
      return false;
    }
    taken_ = bytes;
    return true;
  }

 private:
  std::shared_ptr<ServerSettings> settings_;
  std::size_t taken_ = 0;
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

std::shared_ptr<ServerSession> make_server_session(boost::asio::ip::tcp::socket socket, std::shared_ptr<ServerSettings> settings);

}  // namespace transport
