// Plain POSIX sockets on loopback, to see and to send exactly the bytes a test means; they know nothing of daemon/.
#pragma once

#include <chrono>
#include <cstdint>
#include <string>
#include <string_view>

namespace sockets {

using std::chrono::milliseconds;

struct Answer {
  int status = 0;
  std::string head;  ///< status line and header fields, with the empty line
  std::string body;  ///< as long as Content-Length says; empty without one
  bool has(std::string_view field_line) const { return head.find(std::string(field_line) + "\r\n") != std::string::npos; }
};

/// Owns one connected socket. Waits at most twenty seconds for anything, then throws std::runtime_error.
class Connection {
 public:
  /// From 127.0.0.`from`: the whole of 127/8 is this machine.
  static Connection to(std::uint16_t port, unsigned char from = 1);
  explicit Connection(int fd) : fd_(fd) {}
  Connection(Connection&& other) noexcept : fd_(other.fd_), unread_(std::move(other.unread_)) { other.fd_ = -1; }
  Connection& operator=(Connection&&) = delete;
  ~Connection() { close(); }

  void send(std::string_view bytes);
  /// False when the other side does not take the bytes any more.
  bool try_send(std::string_view bytes);
  Answer read_answer(bool to_head = false);
  /// Bytes up to and including `end`.
  std::string read_until(std::string_view end);
  std::string read_exactly(std::size_t count);
  /// Whatever comes until the other side closes; throws when it does not within the time.
  std::string read_to_end(milliseconds patience = milliseconds{20000});
  /// True when nothing arrives within the time and the connection stays open.
  bool silent_for(milliseconds time);
  void end_sending();
  int fd() const { return fd_; }
  void close();
  /// Closes so that the other side sees a reset.
  void reset();

 private:
  bool receive(milliseconds patience);  // false at the end; throws on timeout
  int fd_;
  std::string unread_;
};

/// Listens on a free loopback port.
class Server {
 public:
  Server();
  ~Server();
  Server(Server const&) = delete;
  Server& operator=(Server const&) = delete;
  std::uint16_t port() const { return port_; }
  Connection accept();
  bool nobody_connects_for(milliseconds time);

 private:
  int fd_;
  std::uint16_t port_ = 0;
};

/// A loopback port on which nobody listens.
std::uint16_t unused_port();

}  // namespace sockets
