// Our listener under TLS, met by clients that are not ours: openssl s_client and curl; and by our own client with a certificate.
#include <gmock/gmock.h>

#include <atomic>
#include <filesystem>
#include <fstream>

#include "transport/client_support.h"
#include "transport/server_support.h"

namespace fs = std::filesystem;
using namespace std::chrono_literals;
using testing::HasSubstr;

namespace {

std::string output_of(std::string const& command) {
  std::string out;
  FILE* const pipe = ::popen((command + " 2>&1").c_str(), "r");
  char bytes[4096];
  for (std::size_t count = 0; (count = std::fread(bytes, 1, sizeof bytes, pipe)) > 0;) out.append(bytes, count);
  ::pclose(pipe);
  return out;
}

/// Authorities and certificates made on the spot by the openssl command, in a folder of their own. Invented names.
struct Papers {
  fs::path folder = fs::temp_directory_path() / ("tls-papers-" + std::to_string(::getpid()));
  Papers() {
    fs::create_directories(folder);
    authority("hospital");
    authority("stranger");
    issue("server", "hospital", "CN=localhost", "subjectAltName=DNS:localhost,IP:127.0.0.1", 30);
    issue("record", "hospital", "CN=record.example/O=Invented Hospital");
    issue("kitchen", "hospital", "CN=kitchen.example/O=Invented Hospital");
    issue("forged", "stranger", "CN=record.example/O=Invented Hospital");
  }
  ~Papers() { fs::remove_all(folder); }
  std::string file(std::string const& name) const { return (folder / name).string(); }
  void authority(std::string const& name) const {
    output_of("openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 2 -subj /CN=" + name + " -keyout " + file(name + ".key") + " -out " + file(name + ".pem"));
  }
  void issue(std::string const& name, std::string const& by, std::string const& subject, std::string const& extension = "keyUsage=digitalSignature", int days = 2,
             std::string const& at = "") const {
    std::ofstream(file(name + ".ext")) << extension << "\n";
    output_of("openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj '/" + subject + "' -keyout " + file(name + ".key") + " -out " + file(name + ".csr"));
    output_of(at + "openssl x509 -req -in " + file(name + ".csr") + " -CA " + file(by + ".pem") + " -CAkey " + file(by + ".key") + " -CAcreateserial -days " + std::to_string(days) +
              " -extfile " + file(name + ".ext") + " -out " + file(name + ".pem"));
  }
};

Papers const& papers() {
  static Papers const made;
  return made;
}

transport::ServerOptions with_tls(std::string const& authorities = {}, std::vector<std::string> subjects = {}) {
  transport::ServerOptions options;
  options.tls = transport::ServerTlsFiles{papers().file("server.pem"), papers().file("server.key"), authorities, std::move(subjects)};
  return options;
}

/// Echo with the subject that the certificate showed.
void echo_subject(transport::Request request, transport::Reply reply) { reply({.status = 200, .body = request.method + " [" + request.tls_subject + "] " + request.body}); }

std::string curl(RunningServer const& server, std::string const& more = "", std::string const& host = "localhost") {
  return output_of("curl -sS --max-time 10 --cacert " + papers().file("hospital.pem") + " " + more + " https://" + host + ":" + std::to_string(server.server->port()) + "/fhir");
}
std::string shows(std::string const& name) { return "--cert " + papers().file(name + ".pem") + " --key " + papers().file(name + ".key"); }

}  // namespace

TEST(ServerTls, ServesCurl) {
  RunningServer server(echo_subject, with_tls());
  EXPECT_EQ(curl(server, "-d hello"), "POST [] hello");
  EXPECT_EQ(curl(server, "-T /dev/null", "127.0.0.1"), "PUT [] ");
  EXPECT_EQ(curl(server, "--tls-max 1.2"), "GET [] ");
  // Keep-alive: two requests on one connection.
  EXPECT_THAT(curl(server, "-w '%{num_connects} ' https://localhost:" + std::to_string(server.server->port()) + "/x"), HasSubstr("0 "));
}

TEST(ServerTls, ALargeBodyInBothDirections) {
  RunningServer server([](transport::Request request, transport::Reply reply) { reply({.status = 200, .body = request.body}); }, with_tls());
  std::string const big = papers().file("big");
  std::ofstream(big) << std::string(5'000'000, 'x');
  EXPECT_EQ(output_of("curl -sS --cacert " + papers().file("hospital.pem") + " --data-binary @" + big + " https://localhost:" + std::to_string(server.server->port()) + "/ | cmp - " + big + " && echo same"),
            "same\n");
}

TEST(ServerTls, OldVersionsAreRefused) {
  RunningServer server(echo_subject, with_tls());
  auto const to = "-connect 127.0.0.1:" + std::to_string(server.server->port());
  EXPECT_THAT(output_of("openssl s_client " + to + " -tls1_1 -cipher DEFAULT@SECLEVEL=0 </dev/null"), HasSubstr("Cipher is (NONE)"));
  EXPECT_THAT(output_of("openssl s_client " + to + " -tls1_2 </dev/null"), HasSubstr("Protocol  : TLSv1.2"));
  EXPECT_THAT(output_of("openssl s_client " + to + " -tls1_3 </dev/null"), HasSubstr("TLSv1.3"));
}

// NSS is the TLS of a widely used browser; tstclnt is its own client.
TEST(ServerTls, ServesABrowsersTls) {
  RunningServer server(echo_subject, with_tls());
  auto const store = "sql:" + papers().file("browser");
  fs::create_directories(papers().file("browser"));
  output_of("certutil -N --empty-password -d " + store);
  auto const ask = [&](std::string const& versions) {
    auto const request = papers().file("request");
    std::ofstream(request) << "GET /fhir HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    return output_of("timeout 20 tstclnt -h localhost -4 -p " + std::to_string(server.server->port()) + " -d " + store + " -V " + versions + " < " + request);
  };
  EXPECT_THAT(ask("tls1.2:tls1.3"), HasSubstr("SEC_ERROR_UNKNOWN_ISSUER")) << "not without the authority";
  output_of("certutil -A -n hospital -t C,, -d " + store + " -i " + papers().file("hospital.pem"));
  EXPECT_THAT(ask("tls1.3:tls1.3"), HasSubstr("GET [] "));
  EXPECT_THAT(ask("tls1.2:tls1.2"), HasSubstr("GET [] "));
}

TEST(ServerTls, OurOwnClientSaysThatACertificateIsForAnotherHost) {
  papers().issue("elsewhere", "hospital", "CN=elsewhere.example", "subjectAltName=DNS:elsewhere.example");
  auto options = with_tls();
  options.tls->certificate = papers().file("elsewhere.pem");
  options.tls->key = papers().file("elsewhere.key");
  RunningServer server(echo_subject, options);
  RunningClient client({.ca_file = papers().file("hospital.pem")});
  auto const outcome = client.send({.url = "https://localhost:" + std::to_string(server.server->port()) + "/fhir"}).get();
  ASSERT_TRUE(std::holds_alternative<transport::Failure>(outcome));
  EXPECT_THAT(std::get<transport::Failure>(outcome).text, HasSubstr("names another host than localhost"));
}

TEST(ServerTls, PlainHttpIsNotAnswered) {
  RunningServer server(echo_subject, with_tls());
  auto peer = server.connect();
  peer.send(get("/fhir"));
  EXPECT_EQ(peer.read_to_end().find("HTTP"), std::string::npos);
  EXPECT_EQ(curl(server), "GET [] ") << "and harms nobody else";
}

TEST(ServerTls, WithAuthoritiesOnlyTheirClientsComeIn) {
  RunningServer server(echo_subject, with_tls(papers().file("hospital.pem")));
  EXPECT_EQ(curl(server, shows("record")), "GET [O=Invented Hospital,CN=record.example] ");
  EXPECT_THAT(curl(server), HasSubstr("curl: ("));
  EXPECT_THAT(curl(server, shows("forged")), HasSubstr("curl: ("));
}

TEST(ServerTls, APinnedSubjectKeepsTheOthersOut) {
  std::atomic<int> told{0};
  auto options = with_tls(papers().file("hospital.pem"), {"cn = record.example, O=Invented Hospital"});
  options.on_trouble = [&](std::string_view what) { told += what.find("kitchen.example") != std::string_view::npos; };
  RunningServer server(echo_subject, options);
  EXPECT_THAT(curl(server, shows("record")), HasSubstr("record.example"));
  EXPECT_THAT(curl(server, shows("kitchen")), HasSubstr("curl: ("));
  EXPECT_EQ(told, 1);
}

TEST(ServerTls, OurOwnClientShowsItsCertificate) {
  RunningServer server(echo_subject, with_tls(papers().file("hospital.pem")));
  auto const url = "https://localhost:" + std::to_string(server.server->port()) + "/fhir";
  RunningClient with({.ca_file = papers().file("hospital.pem"), .certificate_file = papers().file("record.pem"), .key_file = papers().file("record.key")});
  EXPECT_EQ(answer_of(with.send({.url = url})).body, "GET [O=Invented Hospital,CN=record.example] ");
  RunningClient without({.ca_file = papers().file("hospital.pem")});
  EXPECT_NE(failure_of(without.send({.url = url})), "answer");
  RunningClient wrong({.ca_file = papers().file("hospital.pem"), .certificate_file = papers().file("record.pem"), .key_file = papers().file("kitchen.key")});
  EXPECT_EQ(failure_of(wrong.send({.url = url})), "tls");
}

TEST(ServerTls, OurOwnRenewedCertificateIsShownWithoutAStop) {
  RunningServer server(echo_subject, with_tls(papers().file("hospital.pem")));
  papers().issue("ours", "hospital", "CN=before.example");
  RunningClient client({.idle_timeout = 50ms, .ca_file = papers().file("hospital.pem"), .certificate_file = papers().file("ours.pem"), .key_file = papers().file("ours.key")});
  auto const url = "https://localhost:" + std::to_string(server.server->port()) + "/fhir";
  EXPECT_THAT(answer_of(client.send({.url = url})).body, HasSubstr("before.example"));
  std::this_thread::sleep_for(1200ms);
  papers().issue("ours", "hospital", "CN=after.example");
  EXPECT_THAT(answer_of(client.send({.url = url})).body, HasSubstr("after.example"));
  std::this_thread::sleep_for(1200ms);
  std::ofstream(papers().file("ours.key")) << "no key";
  EXPECT_THAT(answer_of(client.send({.url = url})).body, HasSubstr("after.example")) << "the one before stays";
  auto const end = transport::certificate_end(papers().file("ours.pem"));
  ASSERT_TRUE(end);
  EXPECT_NEAR(static_cast<double>(*end - std::time(nullptr)), 2 * 86400, 100);
  EXPECT_FALSE(transport::certificate_end(papers().file("ours.key")));
}

TEST(ServerTls, ARenewedCertificateIsUsedWithoutAStop) {
  auto const before = papers().file("renewed.pem"), key = papers().file("renewed.key");
  papers().issue("renewed", "hospital", "CN=localhost", "subjectAltName=DNS:localhost", 3);
  auto options = with_tls();
  options.tls->certificate = before;
  options.tls->key = key;
  std::atomic<int> troubles{0};
  options.on_trouble = [&](std::string_view) { ++troubles; };
  RunningServer server(echo_subject, options);
  auto const serial = [&] {
    return output_of("openssl s_client -connect localhost:" + std::to_string(server.server->port()) + " </dev/null 2>/dev/null | openssl x509 -noout -serial -enddate");
  };
  auto const first = serial();
  auto const ends = server.server->certificate_expires();
  ASSERT_TRUE(ends);
  std::this_thread::sleep_for(1100ms);
  papers().issue("renewed", "hospital", "CN=localhost", "subjectAltName=DNS:localhost", 20);
  auto const second = serial();
  EXPECT_NE(first, second);
  EXPECT_NEAR(static_cast<double>(*server.server->certificate_expires() - *ends), 17 * 86400, 3700);
  EXPECT_EQ(troubles, 0);
  // A renewal that went wrong: the one before stays, and somebody is told.
  std::this_thread::sleep_for(1100ms);
  std::ofstream(before) << "no certificate";
  EXPECT_EQ(serial(), second);
  EXPECT_EQ(troubles, 1);
  EXPECT_EQ(serial(), second);
  EXPECT_EQ(troubles, 1) << "told once";
  // One that has ended already (made ten days ago, for two).
  std::this_thread::sleep_for(1100ms);
  papers().issue("renewed", "hospital", "CN=localhost", "subjectAltName=DNS:localhost", 2, "faketime -f -10d ");
  EXPECT_EQ(serial(), second);
  EXPECT_EQ(troubles, 2);
  EXPECT_THAT(transport::trouble_with_files(*options.tls), HasSubstr("has ended"));
  EXPECT_EQ(transport::trouble_with_files(*with_tls().tls), "");
}

TEST(ServerTls, FilesThatDoNotFitAreNamedAtTheStart) {
  transport::Io io;
  auto const why = [&](transport::ServerTlsFiles files) {
    transport::HttpServer server(io, {.address = "127.0.0.1:0", .tls = std::move(files)}, echo);
    auto const started = server.start();
    return started ? std::string("started") : started.error().text;
  };
  EXPECT_THAT(why({papers().file("server.pem"), papers().file("record.key"), {}, {}}), HasSubstr("does not belong to the certificate"));
  EXPECT_THAT(why({"/nowhere.pem", papers().file("server.key"), {}, {}}), HasSubstr("/nowhere.pem"));
  EXPECT_THAT(why({papers().file("server.pem"), papers().file("server.key"), "/nowhere.pem", {}}), HasSubstr("authorities of clients"));
}

TEST(ServerTls, ListensOnEveryAddressOnlyWithTls) {
  transport::Io io;
  transport::HttpServer plain(io, {.address = "0.0.0.0:0"}, echo);
  EXPECT_FALSE(plain.start());
  transport::HttpServer safe(io, {.address = "0.0.0.0:0", .tls = with_tls().tls}, echo);
  EXPECT_TRUE(safe.start());
}

// A client that opens a connection and says nothing, or stops within the handshake, is let go; the others are served meanwhile.
TEST(ServerTls, SlowHandshakesHoldNobodyUp) {
  auto options = with_tls();
  options.read_timeout = 300ms;
  RunningServer server(echo_subject, options);
  auto silent = server.connect(), half = server.connect();
  half.send("\x16\x03\x01");
  EXPECT_EQ(curl(server), "GET [] ");
  EXPECT_EQ(silent.read_to_end(), "");
  EXPECT_EQ(half.read_to_end(), "");
}

TEST(ServerTls, StopsWhileConnectionsStand) {
  RunningServer server(echo_subject, with_tls());
  auto silent = server.connect();
  EXPECT_EQ(curl(server), "GET [] ");
  auto const begun = std::chrono::steady_clock::now();
  server.server->stop(1s);
  EXPECT_LT(std::chrono::steady_clock::now() - begun, 8s);
}
