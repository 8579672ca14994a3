// Each way an exchange can fail, and whether the request may have arrived.
#include "transport/client_support.h"

using namespace std::chrono_literals;
using transport::Failure;
using transport::FailureKind;
using transport::OutgoingRequest;

TEST(FailureKind, SaysWhetherTheRequestMayHaveArrived) {
  using enum FailureKind;
  for (auto const kind : {unusable, resolve, refused, tls, not_sent}) EXPECT_FALSE(may_have_arrived(kind)) << name_of(kind);
  for (auto const kind : {maybe_sent, timeout, protocol, too_large}) EXPECT_TRUE(may_have_arrived(kind)) << name_of(kind);
}

TEST(ClientFailure, Refused) {
  RunningClient running;
  auto const port = std::to_string(sockets::unused_port());
  auto const outcome = running.send({.url = "http://127.0.0.1:" + port + "/fhir/Patient/secret"}).get();
  auto const& failure = std::get<Failure>(outcome);
  EXPECT_EQ(name_of(failure.kind), "refused");
  EXPECT_EQ(failure.text, "http://127.0.0.1:" + port + ": Connection refused.");
}

TEST(ClientFailure, UnusableRequests) {
  RunningClient running;
  auto const sent = [&](OutgoingRequest request) { return failure_of(running.send(std::move(request))); };
  for (auto const* url : {"", "/relative", "ftp://127.0.0.1/", "http://", "http:///x", "http://user:pw@127.0.0.1/", "http://127.0.0.1:0/",
                          "http://127.0.0.1:99999/", "http://127.0.0.1/a b", "http://127.0.0.1.example/", "http://127.0.0.1/\r\nX: y"})
    EXPECT_EQ(sent({.url = url}), "unusable") << url;
  EXPECT_EQ(sent({.method = "GE T", .url = running.url()}), "unusable");
  EXPECT_EQ(sent({.url = running.url(), .headers = {{"X", "a\r\nY: b"}}}), "unusable");
  EXPECT_EQ(sent({.url = running.url(), .headers = {{"X Y", "a"}}}), "unusable");
  EXPECT_TRUE(running.server.nobody_connects_for(20ms));
}

TEST(ClientFailure, PlainHttpToAnotherMachine) {
  RunningClient running;
  for (auto const* url : {"http://192.0.2.1/", "http://record.example/", "http://[2001:db8::1]/"})
    EXPECT_EQ(failure_of(running.send({.url = url})), "tls") << url;
}

TEST(ClientFailure, TimeoutAfterSending) {
  RunningClient running;
  auto request = running.post();
  request.timeout = 400ms;
  auto future = running.send(request);
  auto peer = running.server.accept();
  peer.read_until("{}");
  EXPECT_EQ(failure_of(std::move(future)), "timeout");
  EXPECT_EQ(peer.read_to_end(), "");
}

TEST(ClientFailure, TimeoutInTheMiddleOfTheAnswer) {
  RunningClient running;
  auto request = running.post();
  request.timeout = 400ms;
  auto future = running.send(request);
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send("HTTP/1.1 200 OK\r\nContent-Length: 5\r\n\r\nab");
  EXPECT_EQ(failure_of(std::move(future)), "timeout");
}

TEST(ClientFailure, TimeoutWhileWaitingForAFreeConnection) {
  RunningClient running({.max_parallel = 1});
  auto busy = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  auto request = running.post();
  request.timeout = 400ms;
  EXPECT_EQ(failure_of(running.send(request)), "not_sent");
  peer.send(ok_answer);
  EXPECT_EQ(answer_of(std::move(busy)).body, "ok");
  auto next = running.send(running.post());
  peer.read_until("{}");
  peer.send(ok_answer);
  EXPECT_EQ(answer_of(std::move(next)).status, 200);
}

TEST(ClientFailure, TooManyWaiting) {
  RunningClient running({.max_parallel = 1, .max_waiting = 1});
  auto busy = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  auto waiting = running.send(running.post());
  EXPECT_EQ(failure_of(running.send(running.post())), "not_sent");
}

TEST(ClientFailure, ServerClosesAfterReadingTheBody) {
  RunningClient running;
  auto future = running.send(running.post());
  running.server.accept().read_until("{}");
  EXPECT_EQ(failure_of(std::move(future)), "maybe_sent");
}

TEST(ClientFailure, ServerResetsAfterReadingTheBody) {
  RunningClient running;
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.reset();
  EXPECT_EQ(failure_of(std::move(future)), "maybe_sent");
}

TEST(ClientFailure, ServerClosesWhileTheBodyIsBeingSent) {
  RunningClient running;
  auto request = running.post();
  request.body = std::string(50 << 20, 'x');
  auto future = running.send(request);
  {
    auto peer = running.server.accept();
    peer.read_exactly(100000);
    peer.reset();
  }
  EXPECT_EQ(failure_of(std::move(future)), "maybe_sent");
}

TEST(ClientFailure, AnEarlyRefusalIsAnAnswerAllTheSame) {
  RunningClient running;
  auto request = running.post();
  request.body = std::string(50 << 20, 'x');
  auto future = running.send(request);
  {
    auto peer = running.server.accept();
    peer.read_exactly(100000);
    peer.send("HTTP/1.1 413 Too Large\r\nConnection: close\r\nContent-Length: 0\r\n\r\n");
    peer.end_sending();
    std::this_thread::sleep_for(20ms);
  }
  EXPECT_EQ(answer_of(std::move(future)).status, 413);
}

namespace {

struct BadAnswer {
  char const* name;
  std::string bytes;
  char const* kind;
};
void PrintTo(BadAnswer const& row, std::ostream* out) { *out << row.name; }

class ClientRejects : public testing::TestWithParam<BadAnswer> {};

}  // namespace

TEST_P(ClientRejects, TheAnswer) {
  RunningClient running;
  auto request = running.post();
  request.body_limit = 1000;
  auto future = running.send(request);
  {
    auto peer = running.server.accept();
    peer.read_until("{}");
    peer.try_send(GetParam().bytes);
    peer.end_sending();
    EXPECT_EQ(failure_of(std::move(future)), GetParam().kind);
  }
  auto next = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send(ok_answer);
  EXPECT_EQ(answer_of(std::move(next)).body, "ok");
}

INSTANTIATE_TEST_SUITE_P(
    Client, ClientRejects,
    testing::Values(BadAnswer{"Noise", "SSH-2.0-noise\r\n\r\n", "protocol"},
                    BadAnswer{"TruncatedHeader", "HTTP/1.1 200 OK\r\nContent-Le", "protocol"},
                    BadAnswer{"TruncatedBody", "HTTP/1.1 200 OK\r\nContent-Length: 10\r\n\r\nabc", "protocol"},
                    BadAnswer{"TruncatedChunks", "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n", "protocol"},
                    BadAnswer{"BadChunk", "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", "protocol"},
                    BadAnswer{"UnaskedUpgrade", "HTTP/1.1 101 Switching Protocols\r\n\r\n", "protocol"},
                    BadAnswer{"OnlyInterim", "HTTP/1.1 100 Continue\r\n\r\n", "maybe_sent"}, BadAnswer{"Nothing", "", "maybe_sent"},
                    BadAnswer{"LargeHeader", "HTTP/1.1 200 OK\r\nX: " + std::string(100000, 'x') + "\r\n\r\n", "protocol"},
                    BadAnswer{"LargeByLength", "HTTP/1.1 200 OK\r\nContent-Length: 1001\r\n\r\n" + std::string(1001, 'x'), "too_large"},
                    BadAnswer{"LargeByChunks", "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n3e9\r\n" + std::string(1001, 'x'), "too_large"},
                    BadAnswer{"LargeToTheEnd", "HTTP/1.1 200 OK\r\n\r\n" + std::string(1001, 'x'), "too_large"}),
    [](auto const& row) { return row.param.name; });

namespace {

/// Runs one exchange and leaves the connection in the client's pool.
sockets::Connection pooled(RunningClient& running) {
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send(ok_answer);
  answer_of(std::move(future));
  return peer;
}

}  // namespace

TEST(ClientPool, AConnectionClosedMeanwhileIsNotUsed) {
  RunningClient running;
  pooled(running).close();
  std::this_thread::sleep_for(20ms);
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send(ok_answer);
  EXPECT_EQ(answer_of(std::move(future)).body, "ok");
}

TEST(ClientPool, AConnectionWithUnaskedBytesIsNotUsed) {
  RunningClient running;
  auto first = pooled(running);
  first.send("HTTP/1.1 408 Request Timeout\r\n\r\n");
  std::this_thread::sleep_for(20ms);
  auto future = running.send(running.get());
  auto peer = running.server.accept();
  peer.read_until("\r\n\r\n");
  peer.send(ok_answer);
  EXPECT_EQ(answer_of(std::move(future)).status, 200);
}

TEST(ClientPool, AGetThatMeetsTheCloseIsTriedOnceMore) {
  RunningClient running;
  auto first = pooled(running);
  auto future = running.send(running.get());
  first.read_until("\r\n\r\n");
  first.close();
  auto peer = running.server.accept();
  EXPECT_EQ(peer.read_until("\r\n\r\n").substr(0, 24), "GET /fhir/Patient/p?x=y ");
  peer.close();
  EXPECT_EQ(failure_of(std::move(future)), "maybe_sent");
  EXPECT_TRUE(running.server.nobody_connects_for(20ms));
}

TEST(ClientPool, APostThatMeetsTheCloseIsNotRepeated) {
  RunningClient running;
  auto first = pooled(running);
  auto future = running.send(running.post());
  first.read_until("{}");
  first.reset();
  EXPECT_EQ(failure_of(std::move(future)), "maybe_sent");
  EXPECT_TRUE(running.server.nobody_connects_for(20ms));
}

TEST(ClientPool, AGetIsNotRepeatedOnceItsAnswerBegan) {
  RunningClient running;
  auto first = pooled(running);
  auto future = running.send(running.get());
  first.read_until("\r\n\r\n");
  first.send("HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\nab");
  first.close();
  EXPECT_EQ(failure_of(std::move(future)), "protocol");
  EXPECT_TRUE(running.server.nobody_connects_for(20ms));
}
