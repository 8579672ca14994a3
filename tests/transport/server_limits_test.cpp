// What the server does with clients that are wrong, slow, many, or still there when it stops.
#include <atomic>
#include <future>
#include <mutex>
#include <thread>

#include "transport/http_server.h"
#include "transport/server_support.h"

using namespace std::chrono_literals;
using transport::Reply;
using transport::Request;
using transport::Response;
using transport::ServerOptions;

namespace {

double seconds_since(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

struct Refused {
  char const* name;
  std::string bytes;
  int status;
};
void PrintTo(Refused const& row, std::ostream* out) { *out << row.name; }

class ServerRefuses : public testing::TestWithParam<Refused> {};

}  // namespace

TEST_P(ServerRefuses, WithStatusAndClose) {
  RunningServer running(echo, {.body_limit = 1000, .header_limit = 2000});
  auto client = running.connect();
  client.try_send(GetParam().bytes);
  auto const answer = client.read_answer();
  EXPECT_EQ(answer.status, GetParam().status);
  EXPECT_TRUE(answer.has("Connection: close")) << answer.head;
  EXPECT_FALSE(answer.body.empty());
  client.end_sending();
  EXPECT_EQ(client.read_to_end(), "");
  auto next = running.connect();
  next.send(get("/"));
  EXPECT_EQ(next.read_answer().status, 200);
}

TEST(Server, SaysWhichRequestWasTooLargeIfItsHeadIsLetIn) {
  std::mutex mutex;
  std::vector<std::string> told;
  RunningServer running(echo, {.body_limit = 10,
                               .refuse_head = [](Request const& head) { return head.target == "/shut" ? std::optional(std::pair{401, std::string("no")}) : std::nullopt; },
                               .on_too_large = [&](Request const& head) { const std::scoped_lock lock(mutex); told.push_back(head.target); }});
  std::string const eleven = "Content-Length: 11\r\n\r\n01234567890", chunked = "Transfer-Encoding: chunked\r\n\r\nb\r\n01234567890\r\n0\r\n\r\n", ten = "Content-Length: 10\r\n\r\n0123456789";
  for (auto const& [head, status] : {std::pair{"POST /a HTTP/1.1\r\nHost: a\r\n" + eleven, 413}, {"POST /b HTTP/1.1\r\nHost: a\r\n" + chunked, 413}, {"POST /c HTTP/1.1\r\nHost: a\r\n" + ten, 200},
                                     {"POST /gz HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n", 501}, {"POST /shut HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip\r\n\r\n", 401},
                                     {"POST /shut HTTP/1.1\r\nHost: a\r\n" + eleven, 401}}) {
    auto client = running.connect();
    client.try_send(head);
    EXPECT_EQ(client.read_answer().status, status) << head;
  }
  const std::scoped_lock lock(mutex);
  EXPECT_EQ(told, (std::vector<std::string>{"/a", "/b", "/gz"}));
}

INSTANTIATE_TEST_SUITE_P(
    Server, ServerRefuses,
    testing::Values(
        Refused{"Noise", "\x16\x03\x01 noise\r\n\r\n", 400}, Refused{"NoHost", "GET / HTTP/1.1\r\n\r\n", 400},  // RFC 9112, 3.2
        Refused{"TwoHosts", "GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", 400},                               // RFC 9112, 3.2
        Refused{"SpaceBeforeColon", "GET / HTTP/1.1\r\nHost : a\r\n\r\n", 400},                                 // RFC 9112, 5.1
        Refused{"LengthAndChunked", "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nTransfer-Encoding: chunked\r\n\r\nabc", 400},
        Refused{"TwoLengths", "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 3\r\nContent-Length: 4\r\n\r\nabcd", 400},  // RFC 9112, 6.3
        Refused{"NegativeLength", "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n", 400},
        Refused{"BadChunk", "POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n", 400},
        Refused{"ChunkedInHttp10", "POST / HTTP/1.0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 400},
        Refused{"OtherTransferCoding", "POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip, chunked\r\n\r\n", 501},  // RFC 9112, 6.1
        Refused{"TransferCodingWithoutChunked", "POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: gzip\r\n\r\n", 501},
        Refused{"Gzip", "POST / HTTP/1.1\r\nHost: a\r\nContent-Encoding: gzip\r\nContent-Length: 3\r\n\r\nabc", 415},  // RFC 9110, 15.5.16
        Refused{"OtherExpectation", "POST / HTTP/1.1\r\nHost: a\r\nExpect: tea\r\nContent-Length: 3\r\n\r\nabc", 417},
        Refused{"BodyTooLarge", "POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 1001\r\n\r\n" + std::string(1001, 'x'), 413},
        Refused{"ChunksTooLarge",
                "POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n3e9\r\n" + std::string(1001, 'x') + "\r\n0\r\n\r\n", 413},
        Refused{"HeaderTooLarge", "GET / HTTP/1.1\r\nHost: a\r\nX: " + std::string(3000, 'x') + "\r\n\r\n", 431},
        Refused{"HeaderWithoutEnd", "GET /" + std::string(500000, 'x'), 431}),
    [](auto const& row) { return row.param.name; });

TEST(ServerLimits, TakesABodyOfExactlyTheLimit) {
  RunningServer running(echo, {.body_limit = 1000});
  auto client = running.connect();
  client.send(post(std::string(1000, 'x')));
  EXPECT_EQ(client.read_answer().body.size(), 1000 + std::string("POST /fhir ").size());
}

TEST(ServerLimits, AClientThatSendsItsWholeLargeBodyStillReadsThe413) {
  RunningServer running(echo, {.body_limit = 1000});
  auto client = running.connect();
  client.send(post(std::string(20 << 20, 'x')));
  EXPECT_EQ(client.read_answer().status, 413);
}

TEST(ServerLimits, TakesALargeBody) {
  std::promise<std::size_t> size;
  RunningServer running([&](Request request, Reply reply) {
    size.set_value(request.body.size());
    reply({.status = 204});
  });
  auto client = running.connect();
  client.send(post(std::string(30 << 20, 'x')));
  EXPECT_EQ(client.read_answer().status, 204);
  EXPECT_EQ(size.get_future().get(), std::size_t{30} << 20);
}

TEST(ServerLimits, LetsTheAppWordItsRefusals) {
  ServerOptions options;
  options.on_protocol_error = [](int status, std::string_view why) {
    return Response{.status = 299,
                    .headers = {{"Content-Type", "application/fhir+json"}, {"Connection", "keep-alive"}},
                    .body = std::to_string(status) + std::string(why)};
  };
  RunningServer running(echo, options);
  auto client = running.connect();
  client.send("GET / HTTP/1.1\r\n\r\n");
  auto const answer = client.read_answer();
  EXPECT_EQ(answer.status, 400);
  EXPECT_TRUE(answer.has("Content-Type: application/fhir+json") && answer.has("Connection: close")) << answer.head;
  EXPECT_EQ(answer.body, "400A request has exactly one Host field.");
}

TEST(ServerLimits, ClosesAClientThatDribblesItsHeader) {
  RunningServer running(echo, {.read_timeout = 150ms});
  auto client = running.connect();
  auto const start = std::chrono::steady_clock::now();
  client.send("GET / HTTP/1.1\r\nHost: a\r\n");
  bool taken = true;
  for (int i = 0; i < 200 && taken; ++i) {
    taken = client.try_send("X");
    if (!client.silent_for(10ms)) break;
  }
  EXPECT_EQ(client.read_to_end(), "");
  EXPECT_GE(seconds_since(start), 0.1);
  EXPECT_LT(seconds_since(start), 4.0);
}

TEST(ServerLimits, ClosesAClientThatDribblesItsBody) {
  RunningServer running(echo, {.read_timeout = 150ms});
  auto client = running.connect();
  client.send("POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 1000\r\n\r\nx");
  EXPECT_EQ(client.read_to_end(), "");
}

TEST(ServerLimits, ClosesAnIdleConnection) {
  RunningServer running(echo, {.idle_timeout = 100ms});
  auto silent = running.connect();
  auto used = running.connect();
  used.send(get("/"));
  EXPECT_EQ(used.read_answer().status, 200);
  EXPECT_EQ(silent.read_to_end(), "");
  EXPECT_EQ(used.read_to_end(), "");
}

TEST(ServerLimits, ClosesAClientThatDoesNotTakeItsAnswer) {
  constexpr std::size_t beyond_all_buffers = 32 << 20;
  RunningServer running([](Request, Reply reply) { reply({.status = 200, .body = std::string(beyond_all_buffers, 'x')}); }, {.write_timeout = 100ms});
  auto client = running.connect();
  client.send(get("/"));
  EXPECT_FALSE(client.silent_for(5s));
  std::this_thread::sleep_for(400ms);
  EXPECT_LT(client.read_to_end().size(), beyond_all_buffers);
}

TEST(ServerLimits, Answers503WhenTheHandlerIsTooSlow) {
  std::vector<Reply> kept;
  RunningServer running([&](Request, Reply reply) { kept.push_back(std::move(reply)); }, {.answer_timeout = 100ms});
  auto client = running.connect();
  client.send(get("/"));
  auto const answer = client.read_answer();
  EXPECT_EQ(answer.status, 503);
  EXPECT_TRUE(answer.has("Retry-After: 5")) << answer.head;
  kept.front()({.status = 200, .body = "too late"});
  EXPECT_EQ(client.read_to_end(), "");
}

TEST(ServerLimits, Answers503BeyondTheMostConnections) {
  RunningServer running(echo, {.max_connections = 2});
  auto first = running.connect();
  {
    auto second = running.connect();
    for (auto* client : {&first, &second}) {
      client->send(get("/"));
      EXPECT_EQ(client->read_answer().status, 200);
    }
    auto third = running.connect();
    third.send(post("{}"));
    auto const answer = third.read_answer();
    EXPECT_EQ(answer.status, 503);
    EXPECT_TRUE(answer.has("Retry-After: 5") && answer.has("Connection: close")) << answer.head;
    EXPECT_EQ(third.read_to_end(), "");
  }
  int status = 503;
  for (int tries = 0; tries < 100 && status == 503; ++tries) {
    auto next = running.connect();
    next.send(get("/"));
    status = next.read_answer().status;
  }
  EXPECT_EQ(status, 200);
}

TEST(ServerLimits, AHeadThatIsRefusedBringsNoBodyIn) {
  std::atomic<int> handled{0};
  ServerOptions options;
  options.refuse_head = [](Request const& head) -> std::optional<std::pair<int, std::string>> {
    if (head.headers.get("X-Sender-Key") == "known") return std::nullopt;
    return std::pair{401, "who are you, " + head.method + " " + head.target};
  };
  RunningServer running([&](Request request, Reply reply) { ++handled, echo(std::move(request), std::move(reply)); }, options);
  auto stranger = running.connect();
  stranger.send("POST /fhir HTTP/1.1\r\nHost: a\r\nContent-Length: 50000000\r\n\r\n");  // and not a byte of it
  auto const answer = stranger.read_answer();
  EXPECT_EQ(answer.status, 401);
  EXPECT_NE(answer.body.find("who are you, POST /fhir"), std::string::npos);
  EXPECT_TRUE(answer.has("Connection: close"));
  auto waiting = running.connect();
  waiting.send("POST /fhir HTTP/1.1\r\nHost: a\r\nExpect: 100-continue\r\nContent-Length: 5\r\n\r\n");
  EXPECT_EQ(waiting.read_answer().status, 401) << "is not asked to go on";
  EXPECT_EQ(handled, 0);
  auto known = running.connect();
  known.send(post("{}", "X-Sender-Key: known\r\n"));
  EXPECT_EQ(known.read_answer().status, 200);
  auto reader = running.connect();
  reader.send(get("/fhir/metadata"));
  EXPECT_EQ(reader.read_answer().status, 200) << "no body, nothing to hold";
}

TEST(ServerLimits, LargeBodiesTogetherHaveABoundAndSmallOnesAreHeardBesideThem) {
  ServerOptions options;
  options.bodies_limit = 1000;
  options.small_body = 100;
  std::vector<Reply> held;
  std::mutex mutex;
  RunningServer running([&](Request request, Reply reply) {
    if (request.body.size() <= 100) return echo(std::move(request), std::move(reply));
    std::scoped_lock const lock(mutex);
    held.push_back(std::move(reply));
  }, options);
  auto const status_of = [&](std::string const& message) {
    auto client = running.connect();
    client.send(message);
    auto const answer = client.read_answer();
    EXPECT_EQ(answer.status == 503, answer.has("Retry-After: 5")) << answer.head;
    return answer.status;
  };
  auto const held_count = [&] {
    std::scoped_lock const lock(mutex);
    return held.size();
  };
  auto first = running.connect(), begun = running.connect();
  first.send(post(std::string(600, 'x')));
  for (int tries = 0; tries < 200 && held_count() == 0; ++tries) std::this_thread::sleep_for(10ms);
  EXPECT_EQ(status_of(post(std::string(600, 'x'))), 503) << "while the first is being answered";
  EXPECT_EQ(status_of("POST /fhir HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n258\r\n" + std::string(600, 'x') + "\r\n0\r\n\r\n"), 503) << "chunked";
  EXPECT_EQ(status_of(post(std::string(100, 'x'))), 200) << "a small one";
  begun.send("POST /fhir HTTP/1.1\r\nHost: a\r\nContent-Length: 400\r\n\r\n");  // and no byte of it: its place is taken all the same
  EXPECT_TRUE(begun.silent_for(50ms));
  EXPECT_EQ(status_of(post(std::string(101, 'x'))), 503) << "full to the last byte";
  {
    std::scoped_lock const lock(mutex);
    held.front()({.status = 201});
  }
  EXPECT_EQ(first.read_answer().status, 201);
  for (int tries = 0; tries < 200 && held_count() < 2; ++tries) {
    auto next = running.connect();
    next.send(post(std::string(600, 'x')));
    std::this_thread::sleep_for(10ms);
  }
  EXPECT_EQ(held_count(), 2u) << "there is room again";
  std::scoped_lock const lock(mutex);
  held.clear();
}

TEST(ServerLimits, OneAddressCannotTakeEveryPlace) {
  RunningServer running(echo, {.max_connections = 8, .max_per_address = 3});
  std::vector<sockets::Connection> silent;
  for (int n = 0; n < 3; ++n) {
    silent.push_back(sockets::Connection::to(running.server->port(), 2));
    silent.back().send("GET");  // begun, so that it counts before the next comes
    EXPECT_TRUE(silent.back().silent_for(20ms));
  }
  auto fourth = sockets::Connection::to(running.server->port(), 2);
  fourth.send(get("/"));
  EXPECT_EQ(fourth.read_answer().status, 503);
  auto other = sockets::Connection::to(running.server->port(), 3);
  other.send(get("/"));
  EXPECT_EQ(other.read_answer().status, 200) << "another sender";
  silent.pop_back();
  int status = 503;
  for (int tries = 0; tries < 100 && status == 503; ++tries) {
    auto next = sockets::Connection::to(running.server->port(), 2);
    next.send(get("/"));
    status = next.read_answer().status;
  }
  EXPECT_EQ(status, 200) << "its place is free again";
}

TEST(ServerLimits, WhoSaysNothingLosesItsPlaceSooner) {
  RunningServer running(echo, {.idle_timeout = 10s, .first_byte_timeout = 100ms});
  auto silent = running.connect();
  auto used = running.connect();
  used.send(get("/"));
  EXPECT_EQ(used.read_answer().status, 200);
  EXPECT_EQ(silent.read_to_end(), "");
  EXPECT_TRUE(used.silent_for(200ms)) << "it has spoken";
}

TEST(ServerStop, LetsAnAnswerUnderWayFinish) {
  std::promise<Reply> asked;
  RunningServer running([&](Request, Reply reply) { asked.set_value(std::move(reply)); });
  auto busy = running.connect();
  auto idle = running.connect();
  busy.send(post("{}"));
  auto const reply = asked.get_future().get();
  auto stopped = std::async(std::launch::async, [&] { running.server->stop(5s); });
  EXPECT_EQ(idle.read_to_end(), "");
  EXPECT_EQ(stopped.wait_for(50ms), std::future_status::timeout);
  reply({.status = 201, .body = "durable"});
  auto const answer = busy.read_answer();
  EXPECT_EQ(answer.body, "durable");
  EXPECT_TRUE(answer.has("Connection: close")) << answer.head;
  EXPECT_EQ(stopped.wait_for(2s), std::future_status::ready);
  EXPECT_THROW(running.connect(), std::runtime_error);
}

TEST(ServerStop, ClosesFirmlyAtTheDeadline) {
  std::promise<Reply> asked;
  RunningServer running([&](Request, Reply reply) { asked.set_value(std::move(reply)); });
  auto busy = running.connect();
  busy.send(post("{}"));
  auto const reply = asked.get_future().get();
  auto const start = std::chrono::steady_clock::now();
  running.server->stop(100ms);
  EXPECT_LT(seconds_since(start), 2.0);
  EXPECT_EQ(busy.read_to_end(), "");
  reply({.status = 201, .body = "too late"});
}

TEST(ServerStop, AnswersGivenAfterItsEndAreDropped) {
  std::promise<Reply> asked;
  auto running = std::make_unique<RunningServer>([&](Request, Reply reply) { asked.set_value(std::move(reply)); });
  auto client = running->connect();
  client.send(get("/"));
  auto const reply = asked.get_future().get();
  running.reset();
  reply({.status = 200});
  EXPECT_EQ(client.read_to_end(), "");
}

TEST(ServerStop, FreesThePort) {
  auto running = std::make_unique<RunningServer>(echo);
  auto const port = running->server->port();
  auto client = running->connect();
  client.send(get("/"));
  client.read_answer();
  running->server->stop(1s);
  transport::HttpServer again(running->io, {.address = "127.0.0.1:" + std::to_string(port)}, echo);
  auto const started = again.start();
  EXPECT_TRUE(started) << started.error().text;
}
