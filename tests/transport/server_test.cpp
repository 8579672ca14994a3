// What RFC 9110 and RFC 9112 ask of a server, seen from a socket.
#include <algorithm>
#include <future>
#include <random>
#include <thread>

#include "transport/http_server.h"
#include "transport/server_support.h"

using namespace std::chrono_literals;
using transport::Reply;
using transport::Request;
using transport::Response;
using transport::ServerOptions;

TEST(Server, GivesTheRequestAndSendsTheAnswer) {
  std::promise<Request> seen;
  RunningServer running([&](Request request, Reply reply) {
    seen.set_value(std::move(request));
    reply({.status = 201, .headers = {{"ETag", "W/\"1\""}}, .body = "made"});
  });
  auto client = running.connect();
  client.send("PUT /fhir/Patient/p%201?a=b HTTP/1.1\r\nHost: h\r\nX-One: 1\r\nx-one: 2\r\nContent-Length: 3\r\n\r\n{ }");
  auto const answer = client.read_answer();
  EXPECT_EQ(answer.status, 201);
  EXPECT_TRUE(answer.has("ETag: W/\"1\"")) << answer.head;
  EXPECT_EQ(answer.body, "made");
  auto const request = seen.get_future().get();
  EXPECT_EQ(request.method, "PUT");
  EXPECT_EQ(request.target, "/fhir/Patient/p%201?a=b");
  EXPECT_EQ(request.body, "{ }");
  EXPECT_EQ(request.headers.get("X-ONE"), "1");
  EXPECT_EQ(request.headers.count("x-one"), 2U);
  EXPECT_EQ(request.peer.substr(0, 10), "127.0.0.1:");
}

TEST(Server, TakesTheAbsoluteFormOfATarget) {  // RFC 9112, 3.2.2: "a server MUST accept the absolute-form in requests"
  RunningServer running(echo);
  for (auto const& [target, path] : std::vector<std::pair<std::string, std::string>>{
           {"http://record.example/fhir/Task?a=b", "/fhir/Task?a=b"}, {"HTTPS://[::1]:8181/fhir", "/fhir"}, {"http://record.example?a=b", "/?a=b"}, {"http://record.example", "/"}}) {
    auto client = running.connect();
    client.send("GET " + target + " HTTP/1.1\r\nHost: record.example\r\n\r\n");
    auto const answer = client.read_answer();
    EXPECT_EQ(answer.body, "GET " + path + " ") << target;
  }
}

TEST(Server, TakesAnyMethodToken) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send("SEARCH-IT /x HTTP/1.1\r\nHost: h\r\n\r\n");
  EXPECT_EQ(client.read_answer().body, "SEARCH-IT /x ");
}

TEST(Server, KeepsTheConnectionForTheNextRequest) {
  RunningServer running(echo);
  auto client = running.connect();
  for (auto const* target : {"/1", "/2", "/3"}) {
    client.send(get(target));
    EXPECT_EQ(client.read_answer().body, std::string("GET ") + target + " ");
  }
}

TEST(Server, AnswersPipelinedRequestsInTheirOrderAndOneAtATime) {
  std::atomic<int> under_way{0}, most{0};
  std::vector<std::thread> workers;
  RunningServer running([&](Request request, Reply reply) {
    most = std::max(most.load(), ++under_way);
    workers.emplace_back([&, request = std::move(request), reply] {
      std::this_thread::sleep_for(20ms);
      --under_way;
      reply({.status = 200, .body = request.target});
    });
  });
  auto client = running.connect();
  client.send(get("/1") + get("/2") + get("/3"));
  for (auto const* target : {"/1", "/2", "/3"}) EXPECT_EQ(client.read_answer().body, target);
  EXPECT_EQ(most, 1);
  for (auto& worker : workers) worker.join();
}

TEST(Server, ClosesWhenTheClientAsksForIt) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send(get("/", "Connection: close\r\n"));
  auto const answer = client.read_answer();
  EXPECT_TRUE(answer.has("Connection: close")) << answer.head;
  EXPECT_EQ(client.read_to_end(), "");
}

TEST(Server, ClosesAfterAnHttp10RequestUnlessAskedToKeep) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send("GET / HTTP/1.0\r\nConnection: keep-alive\r\n\r\n");
  EXPECT_TRUE(client.read_answer().has("Connection: keep-alive"));
  client.send("GET / HTTP/1.0\r\n\r\n");
  EXPECT_EQ(client.read_answer().status, 200);
  EXPECT_EQ(client.read_to_end(), "");
}

// RFC 9110, section 9.3.2: fields as for GET, no content.
TEST(Server, AnswersHeadWithoutTheBody) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send("HEAD /a HTTP/1.1\r\nHost: h\r\n\r\n");
  auto const answer = client.read_answer(true);
  EXPECT_TRUE(answer.has("Content-Length: 8")) << answer.head;
  client.send(get("/b"));
  EXPECT_EQ(client.read_answer().body, "GET /b ");
}

// RFC 9110, section 8.6: no Content-Length in a 204.
TEST(Server, Sends204WithoutLength) {
  RunningServer running([](Request, Reply reply) { reply({.status = 204}); });
  auto client = running.connect();
  client.send(get("/") + get("/"));
  EXPECT_EQ(client.read_answer().head.find("Content-Length"), std::string::npos);
  EXPECT_EQ(client.read_answer().status, 204);
}

// RFC 9110, section 10.1.1.
TEST(Server, AsksForTheBodyWhenTheClientWaitsForContinue) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send("POST /fhir HTTP/1.1\r\nHost: h\r\nExpect: 100-continue\r\nContent-Length: 2\r\n\r\n");
  EXPECT_EQ(client.read_until("\r\n\r\n"), "HTTP/1.1 100 Continue\r\n\r\n");
  client.send("{}");
  EXPECT_EQ(client.read_answer().body, "POST /fhir {}");
}

TEST(Server, RefusesATooLargeBodyBeforeAskingForIt) {
  RunningServer running(echo, {.body_limit = 10});
  auto client = running.connect();
  client.send("POST /fhir HTTP/1.1\r\nHost: h\r\nExpect: 100-continue\r\nContent-Length: 11\r\n\r\n");
  EXPECT_EQ(client.read_answer().status, 413);
}

TEST(Server, ReadsAChunkedBody) {
  RunningServer running(echo);
  auto client = running.connect();
  client.send("POST /c HTTP/1.1\r\nHost: h\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n2;x=y\r\nde\r\n0\r\n\r\n");
  EXPECT_EQ(client.read_answer().body, "POST /c abcde");
}

TEST(Server, TakesAnswersFromOtherThreadsInAnyOrder) {
  std::mutex mutex;
  std::vector<std::pair<Request, Reply>> waiting;
  RunningServer running([&](Request request, Reply reply) {
    std::lock_guard const lock(mutex);
    waiting.emplace_back(std::move(request), std::move(reply));
  });
  constexpr std::size_t clients = 100, rounds = 3;
  std::vector<sockets::Connection> connections;
  for (std::size_t i = 0; i < clients; ++i) connections.push_back(running.connect());
  std::mt19937 random(7);
  for (std::size_t round = 0; round < rounds; ++round) {
    for (std::size_t i = 0; i < clients; ++i) connections[i].send(post(std::to_string(round * clients + i)));
    std::vector<std::pair<Request, Reply>> batch;
    while (batch.size() < clients) {
      std::lock_guard const lock(mutex);
      std::ranges::move(waiting, std::back_inserter(batch));
      waiting.clear();
    }
    std::ranges::shuffle(batch, random);
    std::thread([&] {
      for (auto const& [request, reply] : batch) reply({.status = 200, .body = request.body});
    }).join();
    for (std::size_t i = 0; i < clients; ++i) EXPECT_EQ(connections[i].read_answer().body, std::to_string(round * clients + i));
  }
}

TEST(Server, WorksWithSeveralIoThreads) {
  transport::Io io(4);
  transport::HttpServer server(io, {.address = "127.0.0.1:0"}, echo);
  ASSERT_TRUE(server.start());
  io.start();
  std::vector<std::thread> clients;
  for (int i = 0; i < 8; ++i)
    clients.emplace_back([&] {
      auto client = sockets::Connection::to(server.port());
      for (int n = 0; n < 50; ++n) {
        client.send(post(std::to_string(n)));
        EXPECT_EQ(client.read_answer().body, "POST /fhir " + std::to_string(n));
      }
    });
  for (auto& client : clients) client.join();
}

TEST(Server, AnswersAtMostOnce) {
  RunningServer running([](Request, Reply reply) {
    reply({.status = 200, .body = "first"});
    reply({.status = 200, .body = "second"});
  });
  auto client = running.connect();
  client.send(get("/"));
  EXPECT_EQ(client.read_answer().body, "first");
  EXPECT_TRUE(client.silent_for(50ms));
}

TEST(Server, Answers500WhenTheHandlerForgetsOrThrows) {
  std::string trouble;
  ServerOptions options;
  options.on_trouble = [&](std::string_view what) { trouble = what; };
  RunningServer running(
      [](Request request, Reply) {
        if (request.target == "/throw") throw std::runtime_error("a fault in the handler");
      },
      options);
  auto client = running.connect();
  client.send(get("/forget"));
  EXPECT_EQ(client.read_answer().status, 500);
  client.send(get("/throw"));
  EXPECT_EQ(client.read_answer().status, 500);
  EXPECT_EQ(trouble, "a fault in the handler");
}

TEST(Server, KeepsHeaderFieldsOfTheHandlerFromBreakingTheAnswer) {
  RunningServer running([](Request, Reply reply) {
    reply({.status = 200, .headers = {{"X-Bad", "a\r\nX-Injected: 1"}, {"Bad Name", "1"}, {"Content-Length", "99"}, {"X-Good", "1"}}, .body = "ok"});
  });
  auto client = running.connect();
  client.send(get("/"));
  auto const answer = client.read_answer();
  EXPECT_EQ(answer.head.find("Injected"), std::string::npos) << answer.head;
  EXPECT_EQ(answer.head.find("Bad"), std::string::npos) << answer.head;
  EXPECT_TRUE(answer.has("Content-Length: 2") && answer.has("X-Good: 1")) << answer.head;
}

TEST(ServerStart, SaysWhichAddressIsTaken) {
  RunningServer first(echo);
  auto const address = "127.0.0.1:" + std::to_string(first.server->port());
  transport::Io io;
  transport::HttpServer second(io, {.address = address}, echo);
  auto const started = second.start();
  ASSERT_FALSE(started);
  EXPECT_EQ(started.error().text, "Cannot listen on " + address + ": Address already in use.");
}

TEST(ServerStart, RefusesPlainHttpBeyondLoopback) {
  transport::Io io;
  for (auto const* address : {"0.0.0.0:0", "[::]:0", "192.0.2.1:80"}) {
    auto const started = transport::HttpServer(io, {.address = address}, echo).start();
    ASSERT_FALSE(started) << address;
    EXPECT_NE(started.error().text.find("without TLS"), std::string::npos) << started.error().text;
  }
}

TEST(ServerStart, RefusesWhatIsNoAddress) {
  transport::Io io;
  for (auto const* address : {"", "8181", "127.0.0.1", "127.0.0.1:", "127.0.0.1:70000", "127.0.0.1:8x", "::1:80", "host.example:80"}) {
    auto const started = transport::HttpServer(io, {.address = address}, echo).start();
    ASSERT_FALSE(started) << address;
    EXPECT_EQ(started.error().text.find("Cannot listen on \"" + std::string(address) + "\""), 0U) << started.error().text;
  }
}

TEST(ServerStart, ListensOnIpv6Loopback) {
  transport::Io io;
  transport::HttpServer server(io, {.address = "[::1]:0"}, echo);
  auto const started = server.start();
  if (!started && started.error().text.find("Cannot assign") != std::string::npos) GTEST_SKIP() << "no IPv6 here";
  EXPECT_TRUE(started.has_value());
}
