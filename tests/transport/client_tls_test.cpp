// Which servers the client trusts, checked against OpenSSL's server side.
#include <openssl/ssl.h>

#include "transport/client_support.h"
#include "transport/tls_support.h"

using namespace std::chrono_literals;
using sockets::TlsServer;
using transport::Failure;
using transport::OutgoingRequest;

namespace {

OutgoingRequest get(TlsServer const& server, std::string const& host = "localhost") {
  return {.url = "https://" + host + ":" + std::to_string(server.port()) + "/fhir", .timeout = 30s};
}

}  // namespace

TEST(ClientTls, TrustsACertificateOfAKnownAuthority) {
  TlsServer server("HTTP/1.1 200 OK\r\nContent-Length: 6\r\n\r\nsecret");
  RunningClient running({.ca_file = server.certificate_file()});
  EXPECT_EQ(answer_of(running.send(get(server))).body, "secret");
  auto const request = server.request();
  EXPECT_EQ(request.substr(0, 29), "localhost\nGET /fhir HTTP/1.1\r") << request;
}

TEST(ClientTls, RefusesAnUnknownAuthority) {
  TlsServer server("");
  RunningClient running;
  auto const outcome = running.send(get(server)).get();
  auto const& failure = std::get<Failure>(outcome);
  EXPECT_EQ(name_of(failure.kind), "tls");
  EXPECT_NE(failure.text.find("certificate"), std::string::npos) << failure.text;
  EXPECT_EQ(server.request(), "");
}

TEST(ClientTls, RefusesAnotherNamesCertificate) {
  TlsServer server("", {.name = "record.example"});
  RunningClient running({.ca_file = server.certificate_file()});
  EXPECT_EQ(failure_of(running.send(get(server))), "tls");
}

TEST(ClientTls, RefusesAnAddressThatTheCertificateDoesNotName) {
  TlsServer server("");
  RunningClient running({.ca_file = server.certificate_file()});
  EXPECT_EQ(failure_of(running.send(get(server, "127.0.0.1"))), "tls");
}

TEST(ClientTls, RefusesAnExpiredCertificate) {
  TlsServer server("", {.seconds_valid = -60});
  RunningClient running({.ca_file = server.certificate_file()});
  auto const outcome = running.send(get(server)).get();
  EXPECT_NE(std::get<Failure>(outcome).text.find("expired"), std::string::npos) << std::get<Failure>(outcome).text;
}

// RFC 8996: TLS 1.1 must not be used.
TEST(ClientTls, RefusesOldProtocolVersions) {
  TlsServer server("", {.highest_version = TLS1_1_VERSION});
  RunningClient running({.ca_file = server.certificate_file()});
  EXPECT_EQ(failure_of(running.send(get(server))), "tls");
}

TEST(ClientTls, RefusesAServerThatSpeaksPlainHttp) {
  RunningClient running;
  auto future = running.send({.url = "https://localhost:" + std::to_string(running.server.port()) + "/", .timeout = 30s});
  auto peer = running.server.accept();
  peer.send(ok_answer);
  EXPECT_EQ(failure_of(std::move(future)), "tls");
}

TEST(ClientTls, SaysWhenTheAuthoritiesCannotBeRead) {
  RunningClient running({.ca_file = "/nonexistent/authorities.pem"});
  auto const outcome = running.send({.url = "https://localhost:1/"}).get();
  auto const& failure = std::get<Failure>(outcome);
  EXPECT_EQ(name_of(failure.kind), "tls");
  EXPECT_NE(failure.text.find("/nonexistent/authorities.pem"), std::string::npos) << failure.text;
}

// A body that ends with the connection is complete only after TLS's own closing message (RFC 8446, section 6.1).
TEST(ClientTls, DoesNotTakeACutOffBodyForAWholeOne) {
  TlsServer server("HTTP/1.1 200 OK\r\n\r\ncut");
  RunningClient running({.ca_file = server.certificate_file()});
  EXPECT_EQ(failure_of(running.send(get(server))), "protocol");
}

TEST(ClientTls, AHandshakeThatHangsIsNotSent) {
  RunningClient running({.connect_timeout = 100ms});
  auto future = running.send({.method = "POST", .url = "https://localhost:" + std::to_string(running.server.port()) + "/", .timeout = 30s});
  auto const peer = running.server.accept();
  EXPECT_EQ(failure_of(std::move(future)), "not_sent");
}
