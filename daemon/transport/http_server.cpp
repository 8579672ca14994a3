#include "transport/http_server.h"

#include <boost/asio/dispatch.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <condition_variable>
#include <map>
#include <mutex>
#include <stdexcept>

#include "transport/endpoint.h"
#include "transport/io_context.h"
#include "transport/server_session.h"
#include "transport/server_tls.h"

namespace net = boost::asio;
using boost::system::error_code;
using net::ip::tcp;

namespace transport {
namespace {

constexpr std::size_t refused_at_once = 64;  // connections being told 503; beyond, they are closed without a word
constexpr std::chrono::milliseconds accept_pause{100};
constexpr std::chrono::seconds unwinding{5};  // for closed sessions to end

std::shared_ptr<ServerSettings> settings_of(ServerOptions options, Handler handler) {
  auto settings = std::make_shared<ServerSettings>();
  settings->options = std::move(options);
  settings->handler = std::move(handler);
  return settings;
}

}  // namespace

void throw_exception_from_error(StartError const& error, boost::source_location const&) { throw std::runtime_error(error.text); }

std::string trouble_with_files(ServerTlsFiles const& files) {
  auto const tls = ServerTls::load(files, {});
  if (!tls) return tls.error().text;
  return (*tls)->in_force() ? std::string() : "The certificate is not in force: it has ended, or has not begun (" + files.certificate + ").";
}

class HttpServer::Listener : public std::enable_shared_from_this<Listener> {
 public:
  Listener(Io& io, ServerOptions options, Handler handler)
      : io_(io),
        settings_(settings_of(std::move(options), std::move(handler))),
        executor_(serial_executor(io)),
        acceptor_(executor_),
        pause_(executor_) {}

  boost::system::result<void, StartError> start();
  void stop(std::chrono::milliseconds grace);
  std::uint16_t port() const { return port_; }
  std::string certificate_trouble() const { return settings_->tls ? settings_->tls->trouble() : std::string(); }
  std::optional<std::int64_t> certificate_expires() const { return settings_->tls ? std::optional(settings_->tls->expires()) : std::nullopt; }

 private:
  error_code listen(tcp::endpoint const& endpoint);
  void accept();
  void accepted(error_code const& error, tcp::socket socket);
  void admit(tcp::socket socket);
  std::vector<std::shared_ptr<ServerSession>> sessions();
  bool wait_until_empty(std::chrono::milliseconds patience);

  Io& io_;
  std::shared_ptr<ServerSettings> settings_;  // not changed after start
  net::any_io_executor executor_;
  tcp::acceptor acceptor_;
  net::steady_timer pause_;
  std::uint16_t port_ = 0;

  std::mutex mutex_;  // guards what follows
  std::condition_variable emptier_;
  std::map<ServerSession*, std::weak_ptr<ServerSession>> open_;
  std::size_t served_ = 0;  // of the open ones; the others are being refused
  std::map<net::ip::address, std::size_t> served_from_;
  bool stopping_ = false;
};

boost::system::result<void, StartError> HttpServer::Listener::start() {
  auto const& address = settings_->options.address;
  auto const endpoint = parse_endpoint(address);
  if (!endpoint) return StartError{"Cannot listen on \"" + address + "\": write an IP address and a port, such as 127.0.0.1:8181."};
  if (settings_->options.tls) {
    auto tls = ServerTls::load(*settings_->options.tls, settings_->options.on_trouble);
    if (!tls) return StartError{"Cannot listen on " + address + ": " + tls.error().text};
    settings_->tls = std::move(*tls);
  } else if (!endpoint->address().is_loopback())
    return StartError{"Refusing to listen on " + address + " without TLS: plain HTTP is for loopback addresses only, such as 127.0.0.1:8181."};
  if (auto const error = listen(*endpoint)) {
    error_code ignored;
    acceptor_.close(ignored);
    return StartError{"Cannot listen on " + address + ": " + error.message() + "."};
  }
  net::dispatch(executor_, [self = shared_from_this()] { self->accept(); });
  return {};
}

error_code HttpServer::Listener::listen(tcp::endpoint const& endpoint) {
  error_code error;
  acceptor_.open(endpoint.protocol(), error);
  if (!error) acceptor_.set_option(tcp::acceptor::reuse_address(true), error);
  if (!error) acceptor_.bind(endpoint, error);
  if (!error) acceptor_.listen(net::socket_base::max_listen_connections, error);
  if (!error) port_ = acceptor_.local_endpoint(error).port();
  return error;
}

void HttpServer::Listener::accept() {
  acceptor_.async_accept(serial_executor(io_), [self = shared_from_this()](error_code const& error, tcp::socket socket) {
    net::dispatch(self->executor_, [self, error, socket = std::move(socket)]() mutable { self->accepted(error, std::move(socket)); });
  });
}

void HttpServer::Listener::accepted(error_code const& error, tcp::socket socket) {
  if (!acceptor_.is_open()) return;
  if (!error) {
    admit(std::move(socket));
    return accept();
  }
  if (settings_->options.on_trouble) settings_->options.on_trouble("Cannot accept a connection: " + error.message());
  pause_.expires_after(accept_pause);
  pause_.async_wait([self = shared_from_this()](error_code const& stopped) {
    if (!stopped && self->acceptor_.is_open()) self->accept();
  });
}

void HttpServer::Listener::admit(tcp::socket socket) {
  error_code ignored;
  socket.set_option(tcp::no_delay(true), ignored);
  auto const from = socket.remote_endpoint(ignored).address();
  auto const session = make_server_session(std::move(socket), settings_);
  bool serve = false;
  {
    std::lock_guard const lock(mutex_);
    auto const known = served_from_.find(from);
    auto const from_there = known == served_from_.end() ? 0 : known->second;
    serve = served_ < settings_->options.max_connections && from_there < settings_->options.max_per_address;
    if (stopping_ || (!serve && open_.size() - served_ >= refused_at_once)) return;
    open_.emplace(session.get(), session);
    if (serve) ++served_, ++served_from_[from];
  }
  auto const purpose = serve ? ServerSession::Purpose::serve : ServerSession::Purpose::refuse;
  session->begin(purpose, [self = shared_from_this(), key = session.get(), serve, from] {
    std::lock_guard const lock(self->mutex_);
    self->open_.erase(key);
    if (serve) --self->served_;
    if (serve && --self->served_from_[from] == 0) self->served_from_.erase(from);
    self->emptier_.notify_all();
  });
}

std::vector<std::shared_ptr<ServerSession>> HttpServer::Listener::sessions() {
  std::lock_guard const lock(mutex_);
  std::vector<std::shared_ptr<ServerSession>> all;
  for (auto const& entry : open_)
    if (auto session = entry.second.lock()) all.push_back(std::move(session));
  return all;
}

bool HttpServer::Listener::wait_until_empty(std::chrono::milliseconds patience) {
  std::unique_lock lock(mutex_);
  return emptier_.wait_for(lock, patience, [this] { return open_.empty(); });
}

void HttpServer::Listener::stop(std::chrono::milliseconds grace) {
  if (io_.on_io_thread()) throw std::logic_error("HttpServer::stop on an I/O thread");
  {
    std::lock_guard const lock(mutex_);
    stopping_ = true;
  }
  run_and_wait(io_, executor_, [this] {
    error_code ignored;
    acceptor_.close(ignored);
    pause_.cancel();
  });
  if (!io_.running()) return;
  for (auto const& session : sessions()) session->finish_soon();
  if (wait_until_empty(grace)) return;
  for (auto const& session : sessions()) session->close_now();
  wait_until_empty(unwinding);
}

HttpServer::HttpServer(Io& io, ServerOptions options, Handler handler)
    : listener_(std::make_shared<Listener>(io, std::move(options), std::move(handler))) {}

HttpServer::~HttpServer() { listener_->stop(std::chrono::milliseconds::zero()); }

boost::system::result<void, StartError> HttpServer::start() { return listener_->start(); }

std::optional<std::int64_t> HttpServer::certificate_expires() const { return listener_->certificate_expires(); }

std::string HttpServer::certificate_trouble() const { return listener_->certificate_trouble(); }

std::uint16_t HttpServer::port() const { return listener_->port(); }

void HttpServer::stop(std::chrono::milliseconds grace) { listener_->stop(grace); }

}  // namespace transport
