#include "transport/server_session.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/dispatch.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <exception>
#include <utility>
#include <variant>

#include "transport/message_convert.h"

namespace net = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using boost::system::error_code;

namespace transport {
namespace {

constexpr auto as_result = net::as_tuple(net::use_awaitable);
constexpr std::chrono::seconds refusal_patience{2};  // for the first byte of a request that gets 503
constexpr std::chrono::seconds linger_time{5};       // for a client to read the last answer before the connection goes
constexpr std::string_view continue_line = "HTTP/1.1 100 Continue\r\n\r\n";

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
std::optional<Refusal> objection(http::request_header<> const& header) {
  if (header.version() == 11 && header.count(http::field::host) != 1) return Refusal{400, "A request has exactly one Host field."};
  if (header.count(http::field::transfer_encoding) > 0) {
    if (header.version() < 11) return Refusal{400, "Transfer-Encoding needs HTTP/1.1."};
    if (!equal_ignoring_case(header[http::field::transfer_encoding], "chunked"))
      return Refusal{501, "The only transfer coding taken here is chunked."};
  }
  auto const coding = header[http::field::content_encoding];
  if (!coding.empty() && !equal_ignoring_case(coding, "identity"))
    return Refusal{415, "Bodies are taken without content coding only, not as " + std::string(coding) + "."};
  auto const expect = header[http::field::expect];
  if (!expect.empty() && !equal_ignoring_case(expect, "100-continue")) return Refusal{417, "The only expectation met here is 100-continue."};
  return std::nullopt;
}

std::string text_of(net::ip::tcp::socket const& socket) {
  error_code error;
  auto const endpoint = socket.remote_endpoint(error);
  if (error) return {};
  auto const host = endpoint.address().to_string();
  return (endpoint.address().is_v6() ? "[" + host + "]" : host) + ":" + std::to_string(endpoint.port());
}

class Session final : public ServerSession, public std::enable_shared_from_this<Session> {
 public:
  Session(net::ip::tcp::socket socket, std::shared_ptr<ServerSettings const> settings)
      : settings_(std::move(settings)),
        peer_(text_of(socket)),
        stream_(std::move(socket)),
        buffer_(options().header_limit + std::size_t{64} * 1024),
        answered_(stream_.get_executor()) {}

  void begin(Purpose purpose, std::function<void()> on_end) override;
  void finish_soon() override;
  void close_now() override;

 private:
  ServerOptions const& options() const { return settings_->options; }

  net::awaitable<void> serve();
  net::awaitable<void> refuse();
  net::awaitable<bool> first_byte(std::chrono::milliseconds patience);
  net::awaitable<Received> receive();
  net::awaitable<error_code> receive_body(Parser& parser);
  net::awaitable<std::optional<Response>> ask_handler(Request request);
  net::awaitable<bool> send(Response answer, AnswerForm form);
  net::awaitable<void> linger();

  void call_handler(Request request);
  void take_answer(Response answer);
  Response protocol_error(int status, std::string_view why) const;
  void report(std::string_view what) const;

  std::shared_ptr<ServerSettings const> settings_;
  std::string peer_;
  beast::tcp_stream stream_;
  beast::flat_buffer buffer_;
  net::steady_timer answered_;  // cancelled when the answer is there
  std::optional<Response> answer_;
  bool idle_ = true;  // no request begun, or all answered: closing harms nobody
  bool stopping_ = false;
  bool closed_ = false;
};

void Session::begin(Purpose purpose, std::function<void()> on_end) {
  auto const self = shared_from_this();
  net::co_spawn(stream_.get_executor(), purpose == Purpose::serve ? serve() : refuse(),
                [self, on_end = std::move(on_end)](std::exception_ptr const& fault) {
                  self->stream_.close();
                  try {
                    if (fault) std::rethrow_exception(fault);
                  } catch (std::exception const& error) {
                    self->report(error.what());
                  }
                  on_end();
                });
}

void Session::finish_soon() {
  net::dispatch(stream_.get_executor(), [self = shared_from_this()] {
    self->stopping_ = true;
    if (self->idle_) self->stream_.close();
  });
}

void Session::close_now() {
  net::dispatch(stream_.get_executor(), [self = shared_from_this()] {
    self->stopping_ = self->closed_ = true;
    self->stream_.close();
    self->answered_.cancel();
  });
}

net::awaitable<void> Session::serve() {
  while (co_await first_byte(options().idle_timeout)) {
    idle_ = false;
    auto received = co_await receive();
    if (std::holds_alternative<Gone>(received)) co_return;
    if (auto const* refusal = std::get_if<Refusal>(&received)) {
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
    if (!form.keep_alive) {
      co_await linger();
      co_return;
    }
    idle_ = true;
  }
}

net::awaitable<void> Session::refuse() {
  if (!co_await first_byte(refusal_patience)) co_return;
  auto answer = protocol_error(503, "There are too many connections.");
  if (co_await send(std::move(answer), {})) co_await linger();
}

/// False when the client closed, kept silent for too long, or the server stops.
net::awaitable<bool> Session::first_byte(std::chrono::milliseconds patience) {
  if (stopping_) co_return false;
  if (buffer_.size() > 0) co_return true;
  stream_.expires_after(patience);
  auto const [error, count] = co_await stream_.async_read_some(buffer_.prepare(4096), as_result);
  if (error) co_return false;
  buffer_.commit(count);
  co_return true;
}

net::awaitable<Received> Session::receive() {
  Parser parser;
  parser.header_limit(options().header_limit);
  parser.body_limit(options().body_limit);
  stream_.expires_after(options().read_timeout);
  auto const [error, count] = co_await http::async_read_header(stream_, buffer_, parser, as_result);
  if (error) co_return after_failed_read(error);
  if (auto refusal = objection(parser.get())) co_return std::move(*refusal);
  if (!parser.is_done()) {
    auto const failed = co_await receive_body(parser);
    if (failed) co_return after_failed_read(failed);
  }
  auto message = parser.release();
  Incoming incoming{.request = {}, .version = message.version(), .keep_alive = message.keep_alive()};
  incoming.request = {.method = std::string(message.method_string()),
                      .target = std::string(message.target()),
                      .headers = headers_of(message),
                      .body = std::move(message.body()),
                      .peer = peer_,
                      .tls_subject = {}};
  co_return incoming;
}

net::awaitable<error_code> Session::receive_body(Parser& parser) {
  bool const waits = parser.get().version() >= 11 && parser.get().count(http::field::expect) > 0 && buffer_.size() == 0;
  if (waits) {
    auto const [error, count] = co_await net::async_write(stream_, net::buffer(continue_line), as_result);
    if (error) co_return error;
  }
  auto const [error, count] = co_await http::async_read(stream_, buffer_, parser, as_result);
  co_return error;
}

/// Nothing when the handler did not answer in time or the session was closed.
net::awaitable<std::optional<Response>> Session::ask_handler(Request request) {
  if (closed_) co_return std::nullopt;
  answer_.reset();
  answered_.expires_after(options().answer_timeout);
  stream_.expires_never();
  call_handler(std::move(request));
  if (!answer_) co_await answered_.async_wait(as_result);
  co_return std::exchange(answer_, std::nullopt);
}

void Session::call_handler(Request request) {
  Reply const reply([weak = weak_from_this()](Response answer) {
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

void Session::take_answer(Response answer) {
  answer_ = std::move(answer);
  answered_.cancel();
}

net::awaitable<bool> Session::send(Response answer, AnswerForm form) {
  auto const message = to_beast(std::move(answer), form);
  stream_.expires_after(options().write_timeout);
  http::response_serializer<http::string_body> serializer(message);
  auto const [error, count] = co_await http::async_write(stream_, serializer, as_result);
  co_return !error;
}

/// Reads on for a while after the last answer: closing with unread bytes would reset the connection, and the client
/// could lose the answer (RFC 9112, section 9.6).
net::awaitable<void> Session::linger() {
  if (closed_) co_return;
  idle_ = true;
  error_code ignored;
  stream_.socket().shutdown(net::ip::tcp::socket::shutdown_send, ignored);
  stream_.expires_after(linger_time);
  buffer_.clear();
  while (!stopping_) {
    auto const [error, count] = co_await stream_.async_read_some(buffer_.prepare(16384), as_result);
    if (error) co_return;
  }
}

Response Session::protocol_error(int status, std::string_view why) const {
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

void Session::report(std::string_view what) const {
  if (options().on_trouble) options().on_trouble(what);
}

}  // namespace

std::shared_ptr<ServerSession> make_server_session(net::ip::tcp::socket socket, std::shared_ptr<ServerSettings const> settings) {
  return std::make_shared<Session>(std::move(socket), std::move(settings));
}

}  // namespace transport
