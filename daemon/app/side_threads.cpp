#include "app/side_threads.h"

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>

namespace app {

struct SideThreads::Mailbox {
  std::mutex mutex;
  Executor* executor = nullptr;  ///< null: nobody listens any more
};

struct SideThreads::Lane {
  std::mutex mutex;
  std::condition_variable wake;
  std::deque<std::function<std::function<void()>()>> queue;
  bool stopping = false;

  /// On its own thread, which keeps lane and mailbox alive.
  void serve(const std::shared_ptr<Mailbox>& mailbox) {
    for (;;) {
      std::function<std::function<void()>()> work;
      {
        std::unique_lock lock(mutex);
        wake.wait(lock, [this] { return stopping || !queue.empty(); });
        if (stopping) return;
        work = std::move(queue.front());
        queue.pop_front();
      }
      auto then = work();
      const std::scoped_lock lock(mailbox->mutex);
      if (mailbox->executor && then) mailbox->executor->post(std::move(then));
    }
  }
};

SideThreads::SideThreads(Executor& executor) : mailbox_(std::make_shared<Mailbox>()) { mailbox_->executor = &executor; }

SideThreads::~SideThreads() {
  {
    const std::scoped_lock lock(mailbox_->mutex);
    mailbox_->executor = nullptr;
  }
  for (const auto& [uri, lane] : lanes_) {
    const std::scoped_lock lock(lane->mutex);
    lane->stopping = true;
    lane->queue.clear();
    lane->wake.notify_one();
  }
}

void SideThreads::run(const std::string& uri, std::function<std::function<void()>()> work) {
  auto& lane = lanes_[uri];
  if (!lane) {
    lane = std::make_shared<Lane>();
    std::thread([lane, mailbox = mailbox_] { lane->serve(mailbox); }).detach();
  }
  const std::scoped_lock lock(lane->mutex);
  lane->queue.push_back(std::move(work));
  lane->wake.notify_one();
}

}  // namespace app
