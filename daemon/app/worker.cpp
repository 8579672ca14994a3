#include "app/worker.h"

namespace app {

Worker::Worker() : thread_([this] { run(); }) {}
Worker::~Worker() { stop(); }

void Worker::post(std::function<void()> work) {
  {
    const std::scoped_lock lock(mutex_);
    if (stopping_) return;
    queue_.push_back(std::move(work));
  }
  wake_.notify_one();
}

void Worker::stop() {
  {
    const std::scoped_lock lock(mutex_);
    stopping_ = true;
  }
  wake_.notify_one();
  if (thread_.joinable()) thread_.join();
}

void Worker::run() {
  for (;;) {
    std::function<void()> work;
    {
      std::unique_lock lock(mutex_);
      wake_.wait(lock, [this] { return stopping_ || !queue_.empty(); });
      if (queue_.empty()) return;
      work = std::move(queue_.front());
      queue_.pop_front();
    }
    work();
  }
}

std::size_t InlineExecutor::run_all() {
  std::size_t ran = 0;
  for (; !queue_.empty(); ++ran) {
    const auto work = std::move(queue_.front());
    queue_.pop_front();
    work();
  }
  return ran;
}

}  // namespace app
