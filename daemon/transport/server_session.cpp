#include "transport/server_session.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/dispatch.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <algorithm>
#include <exception>
#include <type_traits>
#include <utility>
#include <variant>

#include "transport/message_convert.h"
#include "transport/server_tls.h"

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
namespace ssl = boost::asio::ssl;
using boost::system::error_code;

namespace transport {
namespace {

constexpr auto as_result = net::as_tuple(net::use_awaitable);
constexpr std::chrono::seconds refusal_patience{2};  // for the first byte of a request that gets 503
constexpr std::chrono::seconds linger_time{5};       // for a client to read the last answer before the connection goes
constexpr std::chrono::seconds handshake_time{10};
constexpr std::string_view continue_line = "HTTP/1.1 100 Continue\r\n\r\n";

using TlsStream = ssl::stream<beast::tcp_stream>;
using Parser = http::request_parser<http::string_body>;

struct Gone {};  // the client went, or was too slow: nobody to answer
struct Refusal {
  int status;
  std::string why;
};
struct Incoming {
  Request request;
  unsigned version;
  bool keep_alive;
};
using Received = std::variant<Gone, Refusal, Incoming>;

Received after_failed_read(error_code const& error) {
  static auto const& of_http = make_error_code(http::error::bad_method).category();
  if (error == http::error::body_limit) return Refusal{413, "The body is larger than this server takes."};
  if (error == http::error::header_limit || error == http::error::buffer_overflow)
    return Refusal{431, "The request line and header fields are larger than this server takes."};
  if (error == http::error::end_of_stream || error == http::error::partial_message) return Gone{};
  if (error.category() == of_http) return Refusal{400, "The request is not HTTP/1.1: " + error.message() + "."};
  return Gone{};
}

/// What the header of a well-formed request asks for that this server does not do.
std::optional<Refusal> objection(http::request_header<> const& header, bool coded_bodies) {
  if (header.version() == 11 && header.count(http::field::host) != 1) return Refusal{400, "A request has exactly one Host field."};
  if (header.count(http::field::transfer_encoding) > 0) {
    if (header.version() < 11) return Refusal{400, "Transfer-Encoding needs HTTP/1.1."};
    if (!equal_ignoring_case(header[http::field::transfer_encoding], "chunked"))
      return Refusal{501, "The only transfer coding taken here is chunked."};
  }
  auto const coding = header[http::field::content_encoding];
  if (!coded_bodies && !coding.empty() && !equal_ignoring_case(coding, "identity"))
    return Refusal{415, "Bodies are taken without content coding only, not as " + std::string(coding) + "."};
  auto const expect = header[http::field::expect];
  if (!expect.empty() && !equal_ignoring_case(expect, "100-continue")) return Refusal{417, "The only expectation met here is 100-continue."};
  return std::nullopt;
}

/// "/a?b" of "http://host/a?b": a server takes the absolute form of any request (RFC 9112, 3.2.2). Whom it names is not compared: there is one service here.
std::string origin_form(std::string_view target) {
  auto const scheme = target.find("://");
  if (target.starts_with('/') || scheme == std::string_view::npos) return std::string(target);
  auto const path = target.find_first_of("/?", scheme + 3);
  if (path == std::string_view::npos) return "/";
  return (target[path] == '?' ? "/" : "") + std::string(target.substr(path));
}

std::string text_of(net::ip::tcp::socket const& socket) {
  error_code error;
  auto const endpoint = socket.remote_endpoint(error);
  if (error) return {};
  auto const host = endpoint.address().to_string();
  return (endpoint.address().is_v6() ? "[" + host + "]" : host) + ":" + std::to_string(endpoint.port());
}

template <class Stream>
Stream make_stream(net::ip::tcp::socket socket, ssl::context* tls) {
  if constexpr (std::is_same_v<Stream, TlsStream>) return Stream(beast::tcp_stream(std::move(socket)), *tls);
  else return Stream(std::move(socket));
}

template <class Stream>
class Session final : public ServerSession, public std::enable_shared_from_this<Session<Stream>> {
 public:
  /// `tls`: with a TLS stream alone, kept as long as it.
  Session(net::ip::tcp::socket socket, std::shared_ptr<ServerSettings> settings, std::shared_ptr<ssl::context> tls = {})
      : settings_(std::move(settings)),
        peer_(text_of(socket)),
        tls_(std::move(tls)),
        stream_(make_stream<Stream>(std::move(socket), tls_.get())),
        buffer_(options().header_limit + std::size_t{64} * 1024),
        answered_(stream_.get_executor()) {}

  void begin(Purpose purpose, std::function<void()> on_end) override;
  void finish_soon() override;
  void close_now() override;

 private:
  ServerOptions const& options() const { return settings_->options; }

  beast::tcp_stream& lowest() { return beast::get_lowest_layer(stream_); }

  net::awaitable<bool> shake_hands();
  net::awaitable<void> serve();
  net::awaitable<void> refuse();
  net::awaitable<bool> first_byte(std::chrono::milliseconds patience);
  net::awaitable<Received> receive();
  net::awaitable<std::optional<Received>> receive_body(Parser& parser);
  net::awaitable<std::optional<Response>> ask_handler(Request request);
  net::awaitable<bool> send(Response answer, AnswerForm form);
  net::awaitable<void> linger();

  void call_handler(Request request);
  void take_answer(Response answer);
  Response protocol_error(int status, std::string_view why) const;
  void report(std::string_view what) const;

  std::shared_ptr<ServerSettings> settings_;
  std::string peer_;
  std::string subject_;
  std::shared_ptr<ssl::context> tls_;
  Stream stream_;
  beast::flat_buffer buffer_;
  net::steady_timer answered_;  // cancelled when the answer is there
  std::optional<Response> answer_;
  std::unique_ptr<BodyShare> body_;  // of the request that is read or answered
  bool idle_ = true;  // no request begun, or all answered: closing harms nobody
  bool stopping_ = false;
  bool closed_ = false;
};

template <class Stream>
void Session<Stream>::begin(Purpose purpose, std::function<void()> on_end) {
  auto const self = this->shared_from_this();
  net::co_spawn(stream_.get_executor(), purpose == Purpose::serve ? serve() : refuse(),
                [self, on_end = std::move(on_end)](std::exception_ptr const& fault) {
                  self->lowest().close();
                  try {
                    if (fault) std::rethrow_exception(fault);
                  } catch (std::exception const& error) {
                    self->report(error.what());
                  }
                  on_end();
                });
}

template <class Stream>
void Session<Stream>::finish_soon() {
  net::dispatch(stream_.get_executor(), [self = this->shared_from_this()] {
    self->stopping_ = true;
    if (self->idle_) self->lowest().close();
  });
}

template <class Stream>
void Session<Stream>::close_now() {
  net::dispatch(stream_.get_executor(), [self = this->shared_from_this()] {
    self->stopping_ = self->closed_ = true;
    self->lowest().close();
    self->answered_.cancel();
  });
}

template <class Stream>
net::awaitable<void> Session<Stream>::serve() {
  if (!co_await shake_hands()) co_return;
  auto patience = std::min(options().idle_timeout, options().first_byte_timeout);
  while (co_await first_byte(patience)) {
    idle_ = false;
    patience = options().idle_timeout;
    auto received = co_await receive();
    if (std::holds_alternative<Gone>(received)) co_return;
    if (auto const* refusal = std::get_if<Refusal>(&received)) {
      body_.reset();
      auto answer = protocol_error(refusal->status, refusal->why);
      if (co_await send(std::move(answer), {})) co_await linger();
      co_return;
    }
    auto& incoming = std::get<Incoming>(received);
    AnswerForm form{.version = incoming.version, .keep_alive = incoming.keep_alive, .without_body = incoming.request.method == "HEAD"};
    auto answer = co_await ask_handler(std::move(incoming.request));
    if (closed_) co_return;
    if (!answer) {
      form.keep_alive = false;
      answer = protocol_error(503, "There was no answer in time; the request may have been acted on.");
    }
    form.keep_alive = form.keep_alive && !stopping_;
    if (!co_await send(std::move(*answer), form)) co_return;
    body_.reset();
    if (!form.keep_alive) {
      co_await linger();
      co_return;
    }
    idle_ = true;
  }
}

template <class Stream>
net::awaitable<void> Session<Stream>::refuse() {
  if (!co_await shake_hands() || !co_await first_byte(refusal_patience)) co_return;
  auto answer = protocol_error(503, "There are too many connections.");
  if (co_await send(std::move(answer), {})) co_await linger();
}

/// True at once without TLS. False: the client speaks no TLS, shows no certificate, or is not one of those let in.
template <class Stream>
net::awaitable<bool> Session<Stream>::shake_hands() {
  if constexpr (std::is_same_v<Stream, TlsStream>) {
    lowest().expires_after(std::min<std::chrono::milliseconds>(options().read_timeout, handshake_time));
    auto const [error] = co_await stream_.async_handshake(ssl::stream_base::server, as_result);
    if (error) co_return false;
    if (settings_->tls->asks_for_certificate()) {
      subject_ = subject_of_peer(stream_.native_handle());
      if (!settings_->tls->admits(subject_)) {
        report("A client with the certificate \"" + subject_ + "\" is not one of those let in.");
        co_return false;
      }
    }
  }
  co_return true;
}

/// False when the client closed, kept silent for too long, or the server stops.
template <class Stream>
net::awaitable<bool> Session<Stream>::first_byte(std::chrono::milliseconds patience) {
  if (stopping_) co_return false;
  if (buffer_.size() > 0) co_return true;
  lowest().expires_after(patience);
  auto const [error, count] = co_await stream_.async_read_some(buffer_.prepare(4096), as_result);
  if (error) co_return false;
  buffer_.commit(count);
  co_return true;
}

template <class Stream>
net::awaitable<Received> Session<Stream>::receive() {
  Parser parser;
  parser.header_limit(options().header_limit);
  parser.body_limit(options().body_limit);
  lowest().expires_after(options().read_timeout);
  auto const [error, count] = co_await http::async_read_header(stream_, buffer_, parser, as_result);
  bool const too_long = error == http::error::body_limit;  // its Content-Length says so: the head is there
  if (error && !too_long) co_return after_failed_read(error);
  auto refusal_of_head = objection(parser.get(), options().coded_bodies);
  if (refusal_of_head && refusal_of_head->status != 501) co_return std::move(*refusal_of_head);
  if (refusal_of_head || too_long || !parser.is_done()) {
    auto const& head = parser.get();
    Request const shown{.method = std::string(head.method_string()), .target = origin_form(head.target()), .headers = headers_of(head), .body = {}, .peer = peer_, .tls_subject = subject_};
    if (options().refuse_head)
      if (auto refused = options().refuse_head(shown)) co_return Refusal{refused->first, std::move(refused->second)};
    std::optional<Received> failed;
    if (refusal_of_head) failed = std::move(*refusal_of_head);
    else if (too_long) failed = after_failed_read(error);
    else failed = co_await receive_body(parser);
    if (failed) {
      auto const* refusal = std::get_if<Refusal>(&*failed);
      if (refusal && (refusal->status == 413 || refusal->status == 501) && options().on_too_large) options().on_too_large(shown);
      co_return std::move(*failed);
    }
  }
  auto message = parser.release();
  auto target = origin_form(message.target());
  Incoming incoming{.request = {}, .version = message.version(), .keep_alive = message.keep_alive()};
  incoming.request = {.method = std::string(message.method_string()),
                      .target = std::move(target),
                      .headers = headers_of(message),
                      .body = std::move(message.body()),
                      .peer = peer_,
                      .tls_subject = subject_};
  co_return incoming;
}

/// Nothing when all of it is there.
template <class Stream>
net::awaitable<std::optional<Received>> Session<Stream>::receive_body(Parser& parser) {
  Refusal const no_room{503, "There is no room for so large a body beside the others; try again."};
  body_ = std::make_unique<BodyShare>(settings_);
  if (auto const length = parser.content_length(); length && *length <= options().body_limit && !body_->grow_to(*length)) co_return no_room;
  bool const waits = parser.get().version() >= 11 && parser.get().count(http::field::expect) > 0 && buffer_.size() == 0;
  if (waits) {
    auto const [error, count] = co_await net::async_write(stream_, net::buffer(continue_line), as_result);
    if (error) co_return after_failed_read(error);
  }
  while (!parser.is_done()) {
    auto const [error, count] = co_await http::async_read_some(stream_, buffer_, parser, as_result);
    if (error) co_return after_failed_read(error);
    if (!body_->grow_to(parser.get().body().size())) co_return no_room;
  }
  co_return std::nullopt;
}

/// Nothing when the handler did not answer in time or the session was closed.
template <class Stream>
net::awaitable<std::optional<Response>> Session<Stream>::ask_handler(Request request) {
  if (closed_) co_return std::nullopt;
  answer_.reset();
  answered_.expires_after(options().answer_timeout);
  lowest().expires_never();
  call_handler(std::move(request));
  if (!answer_) co_await answered_.async_wait(as_result);
  co_return std::exchange(answer_, std::nullopt);
}

template <class Stream>
void Session<Stream>::call_handler(Request request) {
  Reply const reply([weak = this->weak_from_this()](Response answer) {
    auto const self = weak.lock();
    if (!self) return;
    net::dispatch(self->stream_.get_executor(), [self, answer = std::move(answer)]() mutable { self->take_answer(std::move(answer)); });
  });
  try {
    settings_->handler(std::move(request), reply);
  } catch (std::exception const& error) {
    report(error.what());
  }
}

template <class Stream>
void Session<Stream>::take_answer(Response answer) {
  answer_ = std::move(answer);
  answered_.cancel();
}

template <class Stream>
net::awaitable<bool> Session<Stream>::send(Response answer, AnswerForm form) {
  auto const message = to_beast(std::move(answer), form);
  lowest().expires_after(options().write_timeout);
  http::response_serializer<http::string_body> serializer(message);
  auto const [error, count] = co_await http::async_write(stream_, serializer, as_result);
  co_return !error;
}

/// Reads on for a while after the last answer: closing with unread bytes would reset the connection, and the client
/// could lose the answer (RFC 9112, section 9.6).
template <class Stream>
net::awaitable<void> Session<Stream>::linger() {
  if (closed_) co_return;
  idle_ = true;
  lowest().expires_after(linger_time);
  buffer_.clear();
  if constexpr (std::is_same_v<Stream, TlsStream>) {
    co_await stream_.async_shutdown(as_result);  // says that nothing more comes, and waits for the client to say so
    co_return;
  }
  error_code ignored;
  lowest().socket().shutdown(net::ip::tcp::socket::shutdown_send, ignored);
  while (!stopping_) {
    auto const [error, count] = co_await stream_.async_read_some(buffer_.prepare(16384), as_result);
    if (error) co_return;
  }
}

template <class Stream>
Response Session<Stream>::protocol_error(int status, std::string_view why) const {
  Response answer;
  if (options().on_protocol_error) {
    answer = options().on_protocol_error(status, why);
  } else {
    answer.headers.set("Content-Type", "text/plain; charset=utf-8");
    answer.body = std::string(why) + "\n";
  }
  answer.status = status;
  if (status == 503 && !answer.headers.get("Retry-After")) answer.headers.set("Retry-After", "5");
  if (status == 415 && !answer.headers.get("Accept-Encoding")) answer.headers.set("Accept-Encoding", "identity");
  return answer;
}

template <class Stream>
void Session<Stream>::report(std::string_view what) const {
  if (options().on_trouble) options().on_trouble(what);
}

}  // namespace

std::shared_ptr<ServerSession> make_server_session(net::ip::tcp::socket socket, std::shared_ptr<ServerSettings> settings) {
  if (!settings->tls) return std::make_shared<Session<beast::tcp_stream>>(std::move(socket), std::move(settings));
  auto context = settings->tls->current();
  return std::make_shared<Session<TlsStream>>(std::move(socket), std::move(settings), std::move(context));
}

}  // namespace transport
