#include "transport/timers.h"

#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <thread>

#include "transport/io.h"

using namespace std::chrono_literals;
using transport::Io;
using transport::IoTimers;
using transport::TimerId;

TEST(Timers, RunInTheOrderOfTheirTimes) {
  Io io;
  IoTimers timers(io);
  std::string order;
  std::promise<void> last;
  timers.after(60ms, [&] {
    order += 'c';
    last.set_value();
  });
  timers.after(30ms, [&] { order += 'b'; });
  timers.after(-1s, [&] { order += 'a'; });
  io.start();
  last.get_future().wait();
  EXPECT_EQ(order, "abc");
}

TEST(Timers, DoNotRunInsideTheCallNorEarly) {
  Io io;
  IoTimers timers(io);
  io.start();
  std::promise<std::thread::id> ran;
  auto const start = std::chrono::steady_clock::now();
  timers.after(20ms, [&] { ran.set_value(std::this_thread::get_id()); });
  EXPECT_NE(ran.get_future().get(), std::this_thread::get_id());
  EXPECT_GE(std::chrono::steady_clock::now() - start, 20ms);
}

TEST(Timers, DoNotRunOnceCancelled) {
  Io io(2);
  IoTimers timers(io);
  io.start();
  std::atomic<int> ran{0};
  for (int i = 0; i < 500; ++i) {
    auto const before = ran.load();
    auto const timer = timers.after(std::chrono::microseconds(i % 50), [&] { ++ran; });
    timers.cancel(timer);
    timers.cancel(timer);
    EXPECT_LE(ran.load(), before + 1);
  }
  timers.cancel(TimerId::none);
  auto const settled = timers.after(1h, [&] { ++ran; });
  timers.cancel(settled);
}

TEST(Timers, MayBeSetAndCancelledFromACallback) {
  Io io;
  IoTimers timers(io);
  io.start();
  std::promise<void> done;
  std::atomic<bool> wrong{false};
  timers.after(1ms, [&] {
    auto const other = timers.after(0ms, [&] { wrong = true; });
    timers.cancel(other);
    timers.after(5ms, [&] { done.set_value(); });
  });
  done.get_future().wait();
  EXPECT_FALSE(wrong);
}

TEST(Timers, TakeVeryLongTimes) {
  Io io;
  IoTimers timers(io);
  io.start();
  std::atomic<bool> ran{false};
  timers.after(std::chrono::nanoseconds::max(), [&] { ran = true; });
  std::this_thread::sleep_for(20ms);
  EXPECT_FALSE(ran);
}

TEST(Timers, AreDroppedWithTheirOwner) {
  Io io;
  io.start();
  std::atomic<bool> ran{false};
  IoTimers(io).after(5ms, [&] { ran = true; });
  std::this_thread::sleep_for(30ms);
  EXPECT_FALSE(ran);
}

TEST(Io, RunsPostedWorkOnItsThreadAndStops) {
  Io io;
  std::promise<bool> on_thread;
  io.post([&] { on_thread.set_value(io.on_io_thread()); });
  EXPECT_FALSE(io.on_io_thread());
  io.start();
  EXPECT_TRUE(on_thread.get_future().get());
  io.stop();
  EXPECT_FALSE(io.running());
}
