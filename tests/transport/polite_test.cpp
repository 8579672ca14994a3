// A good guest: pace, Retry-After in both forms, silence while the server is down. Time is moved by hand; nothing here waits.
#include <gmock/gmock.h>

#include <map>

#include "transport/polite_network.h"
#include "transport/retry_after.h"

using namespace std::chrono_literals;
using testing::HasSubstr;
using namespace transport;

namespace {

struct World : Network, Timers {
  std::chrono::steady_clock::time_point at{1h};
  std::multimap<std::chrono::steady_clock::time_point, std::pair<std::uint64_t, std::function<void()>>> timers;
  std::uint64_t count = 0;
  struct Sent {
    OutgoingRequest request;
    std::function<void(Outcome)> done;
    std::chrono::steady_clock::time_point at;
  };
  std::vector<Sent> sent;
  std::vector<std::string> ended;

  void send(OutgoingRequest request, std::function<void(Outcome)> done) override { sent.push_back({std::move(request), std::move(done), at}); }
  TimerId after(std::chrono::nanoseconds time, std::function<void()> then) override {
    timers.emplace(at + time, std::pair(++count, std::move(then)));
    return TimerId{count};
  }
  void cancel(TimerId timer) override { std::erase_if(timers, [&](auto const& one) { return TimerId{one.second.first} == timer; }); }
  void move(std::chrono::nanoseconds time) {
    auto const to = at + time;
    while (!timers.empty() && timers.begin()->first <= to) {
      at = std::max(at, timers.begin()->first);
      auto const then = std::move(timers.begin()->second.second);
      timers.erase(timers.begin());
      then();
    }
    at = to;
  }
  void answer(std::size_t n, int status, Headers headers = {}) { sent[n].done(Response{status, std::move(headers), ""}); }
  void fail(std::size_t n) { sent[n].done(Failure{FailureKind::refused, "https://record:443: nobody listens."}); }
};

struct Guest : World {
  explicit Guest(PoliteOptions wanted) : polite(*this, *this, std::move(wanted)) {}
  void ask(std::string const& name = "x", std::chrono::milliseconds timeout = 30s) {
    polite.send({.url = "https://record/" + name, .timeout = timeout}, [this, name](Outcome outcome) {
      auto const* const answer = std::get_if<Response>(&outcome);
      ended.push_back(name + " " + (answer ? std::to_string(answer->status) : std::string(name_of(std::get<Failure>(outcome).kind)) + ": " + std::get<Failure>(outcome).text));
    });
  }
  PoliteNetwork polite;
};

/// Options need the world's clock, which is there only once the guest is.
std::unique_ptr<Guest> guest(std::function<void(PoliteOptions&)> change = {}) {
  auto const slot = std::make_shared<Guest*>(nullptr);
  PoliteOptions options;
  options.now = [slot] { return *slot ? (*slot)->at : std::chrono::steady_clock::time_point{1h}; };
  if (change) change(options);
  auto made = std::make_unique<Guest>(std::move(options));
  *slot = made.get();
  return made;
}

}  // namespace

TEST(Polite, AtMostFourUnderWayAndFiveASecond) {
  auto g = guest();
  for (int i = 0; i < 12; ++i) g->ask();
  EXPECT_EQ(g->sent.size(), 4U) << "under way at once";
  for (std::size_t i = 0; i < 4; ++i) g->answer(i, 200);
  EXPECT_EQ(g->sent.size(), 5U) << "the fifth of this second";
  g->move(250ms);
  EXPECT_EQ(g->sent.size(), 6U);
  g->move(1s);
  EXPECT_EQ(g->sent.size(), 8U) << "four under way again";
  EXPECT_EQ(g->polite.manners().waiting, 4U);
}

TEST(Polite, KeepsTheOrder) {
  auto g = guest();
  for (char c = 'a'; c < 'k'; ++c) g->ask(std::string(1, c));
  for (std::size_t i = 0; i < 10; ++i) {
    ASSERT_GT(g->sent.size(), i);
    EXPECT_EQ(g->sent[i].request.url, "https://record/" + std::string(1, static_cast<char>('a' + i)));
    g->answer(i, 200);
    g->move(250ms);
  }
}

TEST(Polite, RetryAfterInSecondsIsFollowedByEverything) {
  auto g = guest();
  g->ask("a");
  g->answer(0, 429, {{"Retry-After", "7"}});
  EXPECT_EQ(g->ended, std::vector<std::string>{"a 429"}) << "the answer goes to the one who asked";
  g->ask("b");
  g->move(6900ms);
  EXPECT_EQ(g->sent.size(), 1U);
  EXPECT_THAT(g->polite.manners().resting, HasSubstr("asked to be left alone (429)"));
  g->move(200ms);
  EXPECT_EQ(g->sent.size(), 2U);
  EXPECT_EQ(g->polite.manners().per_second, 2.5) << "and more slowly from then on";
}

TEST(Polite, RetryAfterAsADate) {
  auto g = guest();
  g->ask("a");
  g->answer(0, 503, {{"Date", "Fri, 27 Nov 2026 23:59:50 GMT"}, {"Retry-After", "Sat, 28 Nov 2026 00:00:20 GMT"}});
  g->ask("b", 60s);
  g->move(29s);
  EXPECT_EQ(g->sent.size(), 1U);
  g->move(2s);
  EXPECT_EQ(g->sent.size(), 2U);
}

TEST(Polite, AServerThatIsDownIsTriedByOneRequestAfterEachPause) {
  auto g = guest([](PoliteOptions& options) { options.first_pause = 5s; });
  for (std::size_t i = 0; i < 5; ++i) {
    g->ask();
    g->fail(i);
    g->move(300ms);
  }
  g->ended.clear();
  g->ask("b");
  g->move(1ms);
  ASSERT_EQ(g->ended.size(), 1U) << "at once, so that the caller can count on it";
  EXPECT_THAT(g->ended[0], HasSubstr("b not_sent: Not sent: the record counts as down after 5 failures: https://record:443: nobody listens."));
  g->move(5s);
  g->ask("c");
  g->ask("d");
  EXPECT_EQ(g->sent.size(), 6U) << "one tries, the other waits";
  g->fail(5);
  g->move(1ms);
  EXPECT_THAT(g->ended.back(), HasSubstr("d not_sent"));
  g->move(9s);
  g->ask("e");
  g->move(1ms);
  EXPECT_THAT(g->ended.back(), HasSubstr("e not_sent")) << "the second pause is longer";
  g->move(2s);
  g->ask("f");
  ASSERT_EQ(g->sent.size(), 7U);
  g->ask("g");
  g->answer(6, 200);
  g->move(300ms);
  EXPECT_EQ(g->sent.size(), 8U) << "it is back";
  EXPECT_EQ(g->polite.manners().resting, "");
}

TEST(Polite, ABadAnswerOfTheRecordItselfIsNoOutage) {
  auto g = guest();
  for (std::size_t i = 0; i < 20; ++i) {
    g->ask();
    g->answer(i, i % 2 == 0 ? 500 : 412);
    g->move(300ms);
  }
  EXPECT_EQ(g->sent.size(), 20U);
}

TEST(Polite, AnswersThatComeMuchLaterHalveWhatIsUnderWay) {
  auto g = guest();
  for (std::size_t i = 0; i < 30; ++i) {
    g->ask();
    g->move(100ms);
    g->answer(i, 200);
    g->move(200ms);
  }
  EXPECT_EQ(g->polite.manners().parallel, 4U);
  for (std::size_t i = 30; i < 34; ++i) {
    g->ask();
    g->move(8s);
    g->answer(i, 200);
  }
  EXPECT_LT(g->polite.manners().parallel, 4U);
  EXPECT_LT(g->polite.manners().per_second, 5.0);
  for (std::size_t i = 34; i < 120; ++i) {
    g->ask();
    g->move(100ms);
    g->answer(i, 200);
    g->move(300ms);
  }
  EXPECT_EQ(g->polite.manners().parallel, 4U) << "and it recovers";
  EXPECT_EQ(g->polite.manners().per_second, 5.0);
}

TEST(Polite, WaitingCountsTowardsTheTimeout) {
  auto g = guest();
  for (int i = 0; i < 4; ++i) g->ask();
  g->ask("late", 2s);
  g->move(1500ms);
  EXPECT_TRUE(g->ended.empty());
  g->move(1600ms);
  ASSERT_EQ(g->ended.size(), 1U);
  EXPECT_THAT(g->ended[0], HasSubstr("late not_sent"));
  g->ask("soon", 10s);
  g->answer(0, 200);
  EXPECT_EQ(g->sent.back().request.url, "https://record/soon");
  EXPECT_EQ(g->sent.back().request.timeout, 10s);
}

TEST(Polite, EachRequestHasAnIdOfItsOwn) {
  int count = 0;
  auto g = guest([&](PoliteOptions& options) { options.fresh_id = [&count] { return "id-" + std::to_string(++count); }; });
  g->ask();
  g->ask();
  EXPECT_EQ(g->sent[0].request.headers.get("X-Request-Id"), "id-1");
  EXPECT_EQ(g->sent[1].request.headers.get("X-Request-Id"), "id-2");
}

TEST(Polite, AFullQueueRefuses) {
  auto g = guest([](PoliteOptions& options) { options.waiting = 3; });
  for (int i = 0; i < 8; ++i) g->ask(std::to_string(i));
  g->move(1ms);
  ASSERT_EQ(g->ended.size(), 1U);
  EXPECT_THAT(g->ended[0], HasSubstr("7 not_sent: Not sent: too many requests are waiting"));
}

// RFC 9110, section 5.6.7.
TEST(HttpDate, AsTheRfcShowsIt) {
  EXPECT_EQ(seconds_of_http_date("Sun, 06 Nov 1994 08:49:37 GMT"), 784111777);
  for (char const* wrong : {"Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994", "Sun, 31 Feb 1994 08:49:37 GMT", "Sun, 06 Nov 1994 24:49:37 GMT", "120", ""})
    EXPECT_EQ(seconds_of_http_date(wrong), std::nullopt) << wrong;
}

TEST(HttpDate, RetryAfterInBothForms) {
  auto const of = [](Headers headers) { return retry_after(Response{503, std::move(headers), ""}).count(); };
  EXPECT_EQ(of({}), 0);
  EXPECT_EQ(of({{"Retry-After", "120"}}), 120);
  EXPECT_EQ(of({{"Retry-After", "99999999999999999999"}}), 86400);
  EXPECT_EQ(of({{"Retry-After", "Sun, 06 Nov 1994 08:49:37 GMT"}}), 60) << "without a Date beside it";
  EXPECT_EQ(of({{"Date", "Sun, 06 Nov 1994 08:49:07 GMT"}, {"Retry-After", "Sun, 06 Nov 1994 08:49:37 GMT"}}), 30);
  EXPECT_EQ(of({{"Date", "Sun, 06 Nov 1994 09:49:07 GMT"}, {"Retry-After", "Sun, 06 Nov 1994 08:49:37 GMT"}}), 0) << "it has passed";
}
