// The one thread that owns the store and computes plans. In simulation an inline queue takes its place.
#pragma once

#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>

#include "app/seams.h"

namespace app {

class Worker final : public Executor {
 public:
  Worker();
  ~Worker() override;  ///< stops
  void post(std::function<void()> work) override;
  /// Runs what is queued, then joins. Work posted afterwards is dropped. Not from the worker itself.
  void stop();

 private:
  void run();
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::function<void()>> queue_;
  bool stopping_ = false;
  std::thread thread_;
};

/// Runs the queue where run_all() is called: for simulation and for commands without threads.
class InlineExecutor final : public Executor {
 public:
  void post(std::function<void()> work) override { queue_.push_back(std::move(work)); }
  /// Until nothing is queued. Returns how many pieces ran.
  std::size_t run_all();

 private:
  std::deque<std::function<void()>> queue_;
};

}  // namespace app
