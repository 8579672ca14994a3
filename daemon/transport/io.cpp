#include "transport/io.h"

#include <atomic>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/strand.hpp>
#include <future>
#include <thread>
#include <vector>

#include "transport/io_context.h"

namespace net = boost::asio;

namespace transport {

struct Io::Impl {
  explicit Impl(unsigned wanted) : count(wanted == 0 ? 1 : wanted), context(static_cast<int>(count)) {}

  unsigned count;
  net::io_context context;
  net::executor_work_guard<net::io_context::executor_type> work{context.get_executor()};
  std::vector<std::thread> threads;
  std::atomic<bool> running{false};
};

Io::Io(unsigned threads) : impl_(std::make_unique<Impl>(threads)) {}

Io::~Io() { stop(); }

void Io::start() {
  if (impl_->running.exchange(true)) return;
  for (unsigned i = 0; i < impl_->count; ++i) impl_->threads.emplace_back([this] { impl_->context.run(); });
}

void Io::stop() {
  impl_->work.reset();
  impl_->context.stop();
  for (auto& thread : impl_->threads) thread.join();
  impl_->threads.clear();
  impl_->running = false;
}

bool Io::running() const { return impl_->running; }

bool Io::on_io_thread() const { return impl_->context.get_executor().running_in_this_thread(); }

void Io::post(std::function<void()> work) { net::post(impl_->context, std::move(work)); }

net::io_context& context_of(Io& io) { return io.impl().context; }

net::any_io_executor serial_executor(Io& io) {
  auto const executor = context_of(io).get_executor();
  if (io.impl().count == 1) return executor;
  return net::make_strand(executor);
}

void run_and_wait(Io& io, net::any_io_executor const& executor, std::function<void()> work) {
  if (!io.running() || io.on_io_thread()) {
    work();
    return;
  }
  std::promise<void> done;
  net::post(executor, [&] {
    work();
    done.set_value();
  });
  done.get_future().wait();
}

}  // namespace transport
