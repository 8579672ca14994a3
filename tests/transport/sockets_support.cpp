#include "transport/sockets_support.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cstring>
#include <stdexcept>
#include <utility>

namespace sockets {
namespace {

constexpr milliseconds patience_default{20000};

sockaddr_in loopback(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return address;
}

[[noreturn]] void fail(std::string const& what) { throw std::runtime_error(what + ": " + std::strerror(errno)); }

bool readable(int fd, milliseconds patience) {
  pollfd wait{fd, POLLIN, 0};
  return ::poll(&wait, 1, static_cast<int>(patience.count())) > 0;
}

std::size_t content_length(std::string const& head) {
  auto const at = head.find("Content-Length: ");
  return at == std::string::npos ? 0 : std::stoul(head.substr(at + 16));
}

}  // namespace

Connection Connection::to(std::uint16_t port, unsigned char from) {
  int const fd = ::socket(AF_INET, SOCK_STREAM, 0);
  auto source = loopback(0);
  source.sin_addr.s_addr = htonl(0x7f000000u + from);
  if (::bind(fd, reinterpret_cast<sockaddr const*>(&source), sizeof source) != 0) fail("bind");
  auto const address = loopback(port);
  if (::connect(fd, reinterpret_cast<sockaddr const*>(&address), sizeof address) != 0) fail("connect");
  return Connection(fd);
}

void Connection::send(std::string_view bytes) {
  if (!try_send(bytes)) fail("send");
}

bool Connection::try_send(std::string_view bytes) {
  while (!bytes.empty()) {
    auto const count = ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (count <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return true;
}

bool Connection::receive(milliseconds patience) {
  if (!readable(fd_, patience)) throw std::runtime_error("nothing came in time; so far: " + unread_.substr(0, 200));
  char bytes[16384];
  auto const count = ::recv(fd_, bytes, sizeof bytes, 0);
  if (count <= 0) return false;
  unread_.append(bytes, static_cast<std::size_t>(count));
  return true;
}

std::string Connection::read_until(std::string_view end) {
  auto at = unread_.find(end);
  while (at == std::string::npos) {
    if (!receive(patience_default)) throw std::runtime_error("closed after: " + unread_.substr(0, 200));
    at = unread_.find(end);
  }
  return read_exactly(at + end.size());
}

std::string Connection::read_exactly(std::size_t count) {
  while (unread_.size() < count)
    if (!receive(patience_default)) throw std::runtime_error("closed after " + std::to_string(unread_.size()) + " bytes");
  auto const bytes = unread_.substr(0, count);
  unread_.erase(0, count);
  return bytes;
}

Answer Connection::read_answer(bool to_head) {
  Answer answer;
  answer.head = read_until("\r\n\r\n");
  answer.status = std::stoi(answer.head.substr(9, 3));
  if (!to_head) answer.body = read_exactly(content_length(answer.head));
  return answer;
}

std::string Connection::read_to_end(milliseconds patience) {
  while (receive(patience)) {
  }
  return std::exchange(unread_, {});
}

bool Connection::silent_for(milliseconds time) { return unread_.empty() && !readable(fd_, time); }

void Connection::end_sending() { ::shutdown(fd_, SHUT_WR); }

void Connection::close() {
  if (fd_ >= 0) ::close(fd_);
  fd_ = -1;
}

void Connection::reset() {
  linger const at_once{1, 0};
  ::setsockopt(fd_, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
  close();
}

Server::Server() : fd_(::socket(AF_INET, SOCK_STREAM, 0)) {
  auto address = loopback(0);
  socklen_t size = sizeof address;
  if (::bind(fd_, reinterpret_cast<sockaddr const*>(&address), size) != 0 || ::listen(fd_, 64) != 0) fail("listen");
  ::getsockname(fd_, reinterpret_cast<sockaddr*>(&address), &size);
  port_ = ntohs(address.sin_port);
}

Server::~Server() { ::close(fd_); }

Connection Server::accept() {
  if (!readable(fd_, patience_default)) throw std::runtime_error("nobody connected");
  return Connection(::accept(fd_, nullptr, nullptr));
}

bool Server::nobody_connects_for(milliseconds time) { return !readable(fd_, time); }

std::uint16_t unused_port() { return Server().port(); }

}  // namespace sockets
