// Requests and answers as a well-behaved server sees and gives them.
#include <atomic>

#include "transport/client_support.h"
#include "transport/server_support.h"

using namespace std::chrono_literals;
using transport::Outcome;
using transport::OutgoingRequest;

TEST(Client, WritesTheRequestAndReadsTheAnswer) {
  RunningClient running;
  auto request = running.post();
  request.headers = {{"Content-Type", "application/fhir+json"}, {"If-None-Exist", "identifier=a|b"}, {"Host", "elsewhere"}, {"Connection", "close"}};
  auto future = running.send(request);
  auto peer = running.server.accept();
  auto const head = peer.read_until("\r\n\r\n");
  EXPECT_EQ(head,
            "POST /fhir HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(running.server.port()) +
                "\r\nContent-Type: application/fhir+json\r\nIf-None-Exist: identifier=a|b\r\nAccept-Encoding: identity\r\nContent-Length: 2\r\n\r\n");
  EXPECT_EQ(peer.read_exactly(2), "{}");
  peer.send("HTTP/1.1 201 Created\r\nETag: W/\"1\"\r\nContent-Length: 4\r\n\r\nmade");
  auto const answer = answer_of(std::move(future));
  EXPECT_EQ(answer.status, 201);
  EXPECT_EQ(answer.headers.get("etag"), "W/\"1\"");
  EXPECT_EQ(answer.body, "made");
}

TEST(Client, SpeaksWithOurServer) {
  RunningServer server(echo);
  RunningClient running;
  auto const base = "http://localhost:" + std::to_string(server.server->port());
  EXPECT_EQ(answer_of(running.send({.method = "PUT", .url = base + "/a?b", .body = "c"})).body, "PUT /a?b c");
  EXPECT_EQ(answer_of(running.send({.method = "HEAD", .url = base})).body, "");
  EXPECT_EQ(answer_of(running.send({.url = base + "#fragment"})).body, "GET / ");
}

TEST(Client, ReadsAChunkedAnswer) {
  RunningClient running;
  auto future = running.send(running.get());
  auto peer = running.server.accept();
  peer.read_until("\r\n\r\n");
  peer.send("HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n");
  peer.send("2\r\nde\r\n0\r\nX-Trailer: 1\r\n\r\n");
  EXPECT_EQ(answer_of(std::move(future)).body, "abcde");
}

TEST(Client, ReadsAnAnswerThatEndsWithTheConnection) {
  RunningClient running;
  auto future = running.send(running.get());
  {
    auto peer = running.server.accept();
    peer.read_until("\r\n\r\n");
    peer.send("HTTP/1.1 200 OK\r\n\r\nabc");
  }
  EXPECT_EQ(answer_of(std::move(future)).body, "abc");
}

// RFC 9110, section 15.2: any number of 1xx may come first.
TEST(Client, SkipsInterimAnswers) {
  RunningClient running;
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send("HTTP/1.1 100 Continue\r\n\r\nHTTP/1.1 103 Early Hints\r\nLink: </a>\r\n\r\n" + ok_answer);
  EXPECT_EQ(answer_of(std::move(future)).body, "ok");
}

TEST(Client, GivesErrorsAndRedirectionsAsAnswers) {
  RunningClient running;
  for (auto const* status : {"301", "404", "412", "503"}) {
    auto future = running.send(running.post());
    auto peer = running.server.accept();
    peer.read_until("{}");
    peer.send("HTTP/1.1 " + std::string(status) + " Any\r\nLocation: http://192.0.2.1/\r\nConnection: close\r\nContent-Length: 0\r\n\r\n");
    EXPECT_EQ(answer_of(std::move(future)).status, std::stoi(status));
  }
}

TEST(Client, UsesItsConnectionAgain) {
  RunningClient running;
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  for (int i = 0; i < 3; ++i) {
    peer.read_until("{}");
    peer.send(ok_answer);
    EXPECT_EQ(answer_of(std::move(future)).body, "ok");
    future = running.send(running.post());
  }
  peer.read_until("{}");
  EXPECT_TRUE(running.server.nobody_connects_for(20ms));
}

TEST(Client, OpensAtMostFourConnectionsToOneOriginAndKeepsTheOrder) {
  RunningClient running;
  std::vector<std::future<Outcome>> futures;
  for (int i = 0; i < 10; ++i) {
    auto request = running.get();
    request.url = running.url("/" + std::to_string(i));
    futures.push_back(running.send(request));
  }
  std::vector<sockets::Connection> peers;
  for (int i = 0; i < 4; ++i) peers.push_back(running.server.accept());
  EXPECT_TRUE(running.server.nobody_connects_for(50ms));
  for (auto& peer : peers) peer.read_until("\r\n\r\n");
  for (int i = 4; i < 10; ++i) {
    peers[0].send(ok_answer);
    EXPECT_EQ(peers[0].read_until("\r\n\r\n").substr(0, 6), "GET /" + std::to_string(i));
  }
  for (auto& peer : peers) peer.send(ok_answer);
  for (auto& future : futures) EXPECT_EQ(answer_of(std::move(future)).body, "ok");
}

TEST(Client, ClosesAnUnusedConnection) {
  RunningClient running({.idle_timeout = 50ms});
  auto future = running.send(running.post());
  auto peer = running.server.accept();
  peer.read_until("{}");
  peer.send(ok_answer);
  answer_of(std::move(future));
  EXPECT_EQ(peer.read_to_end(), "");
}

TEST(Client, TakesRequestsFromManyThreads) {
  RunningServer server(echo);
  RunningClient running;
  auto const base = "http://127.0.0.1:" + std::to_string(server.server->port()) + "/";
  std::vector<std::thread> threads;
  std::atomic<int> right{0};
  for (int t = 0; t < 4; ++t)
    threads.emplace_back([&, t] {
      for (int i = 0; i < 50; ++i) {
        auto const name = std::to_string(t * 1000 + i);
        right += answer_of(running.send({.method = "POST", .url = base, .body = name})).body == "POST / " + name;
      }
    });
  for (auto& thread : threads) thread.join();
  EXPECT_EQ(right, 200);
}

TEST(Client, DropsItsCallbacksWhenDestroyed) {
  sockets::Server server;
  transport::Io io;
  io.start();
  std::atomic<bool> called{false};
  {
    transport::HttpClient client(io);
    for (int i = 0; i < 6; ++i) client.send({.url = "http://127.0.0.1:" + std::to_string(server.port())}, [&](Outcome) { called = true; });
    server.accept().read_until("\r\n\r\n");
  }
  std::this_thread::sleep_for(30ms);
  EXPECT_FALSE(called);
}
