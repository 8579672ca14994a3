#include "transport/client_connection.h"

#include <sys/socket.h>

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/connect.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <vector>

#include "transport/message_convert.h"

namespace net = boost::asio;
namespace ssl = boost::asio::ssl;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using boost::system::error_code;
using net::ip::tcp;

namespace transport {
namespace {

constexpr auto as_result = net::as_tuple(net::use_awaitable);
constexpr std::uint32_t header_limit = 64 * 1024;
constexpr int interim_answers = 16;  // 1xx before the real one

using Message = http::request<http::span_body<char const>>;
using Parser = http::response_parser<http::string_body>;

Failure failure(FailureKind kind, Destination const& to, std::string const& what) { return {kind, to.origin + ": " + what + "."}; }

Message message_of(OutgoingRequest const& request, Destination const& to) {
  Message message;
  message.version(11);
  message.method_string(request.method);
  message.target(to.target);
  message.set(http::field::host, to.host_field);
  for (auto const& [name, value] : request.headers)
    if (!is_about_framing(name) && !equal_ignoring_case(name, "Host")) message.insert(name, value);
  if (!request.headers.get("Accept-Encoding")) message.set(http::field::accept_encoding, "identity");
  bool const usually_without_body = request.method == "GET" || request.method == "HEAD" || request.method == "DELETE";
  if (!request.body.empty() || !usually_without_body) message.content_length(request.body.size());
  message.body() = {request.body.data(), request.body.size()};
  return message;
}

FailureKind kind_of_broken_answer(error_code const& error) {
  static auto const& of_http = make_error_code(http::error::bad_method).category();
  if (error == http::error::body_limit) return FailureKind::too_large;
  if (error == http::error::end_of_stream) return FailureKind::maybe_sent;
  if (error.category() == of_http || error == ssl::error::stream_truncated) return FailureKind::protocol;
  return FailureKind::maybe_sent;
}

/// Reads one answer, interim ones skipped.
template <class Stream>
net::awaitable<Exchange> read_answer(Stream& stream, beast::flat_buffer& buffer, OutgoingRequest const& request, Destination const& to) {
  bool began = false;
  for (int interim = 0; interim <= interim_answers; ++interim) {
    Parser parser;
    parser.header_limit(header_limit);
    parser.body_limit(request.body_limit);
    parser.skip(request.method == "HEAD");
    auto [error, count] = co_await http::async_read_header(stream, buffer, parser, as_result);
    began = began || parser.got_some() || buffer.size() > 0;
    bool const is_interim = !error && parser.get().result_int() / 100 == 1;
    if (is_interim && parser.get().result_int() != 101) continue;
    if (!error && !is_interim && !parser.is_done()) std::tie(error, count) = co_await http::async_read(stream, buffer, parser, as_result);
    if (!error && is_interim) error = http::error::bad_status;
    if (error) co_return Exchange{failure(kind_of_broken_answer(error), to, error.message()), began};
    bool const reusable = parser.keep_alive() && !parser.need_eof() && buffer.size() == 0;
    auto answer = parser.release();
    Response response{.status = static_cast<int>(answer.result_int()), .headers = headers_of(answer), .body = std::move(answer.body())};
    co_return Exchange{std::move(response), began, reusable};
  }
  co_return Exchange{failure(FailureKind::protocol, to, "too many interim answers"), began};
}

template <class Stream>
net::awaitable<Exchange> talk(Stream& stream, beast::flat_buffer& buffer, OutgoingRequest const& request, Destination const& to) {
  auto const message = message_of(request, to);
  http::request_serializer<http::span_body<char const>> serializer(message);
  auto const [error, sent] = co_await http::async_write(stream, serializer, as_result);
  // TLS may have put bytes on the wire that are not counted.
  if (error && sent == 0 && !to.tls) co_return Exchange{failure(FailureKind::not_sent, to, error.message())};
  // A server that refuses early (413, 401) may answer before it has read everything: its answer counts.
  auto exchange = co_await read_answer(stream, buffer, request, to);
  if (error) exchange.reusable = false;
  co_return exchange;
}

std::vector<tcp::endpoint> known_endpoints(Destination const& to) {
  error_code error;
  auto const address = net::ip::make_address(to.host, error);
  if (!error) return {{address, to.port}};
  if (!is_loopback(to.host)) return {};
  return {{net::ip::address_v4::loopback(), to.port}, {net::ip::address_v6::loopback(), to.port}};
}

/// SSL_set_tlsext_host_name without its C cast.
void name_server(SSL* connection, std::string host) { SSL_ctrl(connection, SSL_CTRL_SET_TLSEXT_HOSTNAME, TLSEXT_NAMETYPE_host_name, host.data()); }

net::awaitable<error_code> look_up(Destination const& to, std::vector<tcp::endpoint>& endpoints) {
  tcp::resolver resolver(co_await net::this_coro::executor);
  auto const [error, found] = co_await resolver.async_resolve(to.host, std::to_string(to.port), as_result);
  for (auto const& entry : found) endpoints.push_back(entry.endpoint());
  co_return error;
}

}  // namespace

struct ClientConnection::Streams {
  explicit Streams(net::any_io_executor const& executor) : tcp(executor) {}

  net::awaitable<std::optional<Failure>> shake_hands(Destination const& to, ssl::context& context);

  beast::tcp_stream tcp;
  std::optional<ssl::stream<beast::tcp_stream&>> tls;
  beast::flat_buffer buffer{header_limit + std::size_t{64} * 1024};
};

ClientConnection::ClientConnection(net::any_io_executor const& executor) : streams_(std::make_unique<Streams>(executor)) {}

ClientConnection::~ClientConnection() = default;

net::awaitable<std::optional<Failure>> ClientConnection::open(Destination const& to, std::chrono::milliseconds patience, ssl::context* tls) {
  auto endpoints = known_endpoints(to);
  streams_->tcp.expires_after(patience);
  if (endpoints.empty()) {
    auto const error = co_await look_up(to, endpoints);
    if (error) co_return failure(FailureKind::resolve, to, error.message());
  }
  // Each address has its share of the time: one that swallows everything does not hide the next.
  error_code error = net::error::host_not_found;  // no address at all
  for (auto const& endpoint : endpoints) {
    streams_->tcp.close();
    streams_->tcp.expires_after(patience / static_cast<int>(endpoints.size()));
    auto const [failed] = co_await streams_->tcp.async_connect(endpoint, as_result);
    error = failed;
    if (!error) break;
  }
  if (error == net::error::connection_refused) co_return failure(FailureKind::refused, to, error.message());
  if (error) co_return failure(FailureKind::not_sent, to, error.message());
  streams_->tcp.expires_after(patience);
  error_code ignored;
  streams_->tcp.socket().set_option(tcp::no_delay(true), ignored);
  if (tls != nullptr) co_return co_await streams_->shake_hands(to, *tls);
  co_return std::nullopt;
}

net::awaitable<std::optional<Failure>> ClientConnection::Streams::shake_hands(Destination const& to, ssl::context& context) {
  tls.emplace(tcp, context);
  error_code not_an_address;
  net::ip::make_address(to.host, not_an_address);
  if (not_an_address) name_server(tls->native_handle(), to.host);
  bool other_host = false;
  tls->set_verify_callback([check = ssl::host_name_verification(to.host), &other_host](bool trusted, ssl::verify_context& shown) {
    bool const fits = check(trusted, shown);
    if (trusted && !fits) other_host = true;
    return fits;
  });
  auto const [error] = co_await tls->async_handshake(ssl::stream_base::client, as_result);
  if (!error) co_return std::nullopt;
  if (other_host) co_return failure(FailureKind::tls, to, "its certificate is trusted but names another host than " + to.host);
  auto const verdict = SSL_get_verify_result(tls->native_handle());
  if (verdict != X509_V_OK) co_return failure(FailureKind::tls, to, X509_verify_cert_error_string(verdict));
  bool const of_tls = error.category() == net::error::get_ssl_category();
  co_return failure(of_tls ? FailureKind::tls : FailureKind::not_sent, to, error.message());
}

net::awaitable<Exchange> ClientConnection::exchange(OutgoingRequest const& request, Destination const& to) {
  streams_->tcp.expires_never();
  if (streams_->tls) co_return co_await talk(*streams_->tls, streams_->buffer, request, to);
  co_return co_await talk(streams_->tcp, streams_->buffer, request, to);
}

bool ClientConnection::is_quiet() const {
  char byte = 0;
  auto const count = ::recv(streams_->tcp.socket().native_handle(), &byte, 1, MSG_PEEK | MSG_DONTWAIT);
  return count < 0 && (errno == EAGAIN || errno == EWOULDBLOCK);
}

void ClientConnection::close() { streams_->tcp.close(); }

boost::system::result<std::shared_ptr<ssl::context>, Failure> make_tls_context(std::string const& ca_file, std::string const& certificate_file,
                                                                            std::string const& key_file) {
  auto context = std::make_shared<ssl::context>(ssl::context::tls_client);
  error_code error;
  context->set_options(ssl::context::default_workarounds | ssl::context::no_tlsv1 | ssl::context::no_tlsv1_1, error);
  context->set_verify_mode(ssl::verify_peer, error);
  if (ca_file.empty()) {
    context->set_default_verify_paths(error);
  } else {
    context->load_verify_file(ca_file, error);
  }
  if (error)
    return Failure{FailureKind::tls,
                   "The trusted authorities cannot be read (" + (ca_file.empty() ? "the system's" : ca_file) + "): " + error.message() + "."};
  if (!certificate_file.empty()) {
    context->set_password_callback([](std::size_t, ssl::context::password_purpose) { return std::string(); }, error);
    context->use_certificate_chain_file(certificate_file, error);
    if (error) return Failure{FailureKind::tls, "Our own certificate cannot be read (" + certificate_file + "): " + error.message() + "."};
    context->use_private_key_file(key_file, ssl::context::pem, error);
    if (error) return Failure{FailureKind::tls, "The key of our own certificate cannot be read, or does not belong to it (" + key_file + "): " + error.message() + "."};
  }
  return context;
}

}  // namespace transport
