#include "transport/timers.h"

#include <algorithm>
#include <boost/asio/steady_timer.hpp>
#include <map>
#include <mutex>

#include "transport/io_context.h"

namespace net = boost::asio;

namespace transport {
namespace {

constexpr std::chrono::nanoseconds longest = std::chrono::hours{24 * 365 * 100};

}  // namespace

struct IoTimers::State {
  struct Entry {
    net::steady_timer timer;
    std::function<void()> then;
  };

  explicit State(net::any_io_executor e) : executor(std::move(e)) {}

  void fire(std::uint64_t id) {
    std::unique_lock lock(mutex);
    auto entry = entries.extract(id);
    lock.unlock();
    if (entry) entry.mapped().then();
  }

  net::any_io_executor executor;
  std::mutex mutex;  // guards what follows
  std::map<std::uint64_t, Entry> entries;
  std::uint64_t last = 0;
};

IoTimers::IoTimers(Io& io) : io_(io), state_(std::make_shared<State>(serial_executor(io))) {}

IoTimers::~IoTimers() {
  run_and_wait(io_, state_->executor, [this] {
    std::lock_guard const lock(state_->mutex);
    state_->entries.clear();
  });
}

TimerId IoTimers::after(std::chrono::nanoseconds real_time, std::function<void()> then) {
  std::lock_guard const lock(state_->mutex);
  auto const id = ++state_->last;
  auto const span = std::clamp(real_time, std::chrono::nanoseconds::zero(), longest);
  auto& entry = state_->entries.emplace(id, State::Entry{net::steady_timer(state_->executor, span), std::move(then)}).first->second;
  entry.timer.async_wait([state = state_, id](boost::system::error_code const& stopped) {
    if (!stopped) state->fire(id);
  });
  return TimerId{id};
}

void IoTimers::cancel(TimerId timer) {
  std::lock_guard const lock(state_->mutex);
  state_->entries.erase(static_cast<std::uint64_t>(timer));
}

}  // namespace transport
