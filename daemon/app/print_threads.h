// A thread for each print queue: a printer that does not answer holds up nobody but itself.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>

#include "app/seams.h"

namespace app {

class PrintThreads {
 public:
  explicit PrintThreads(Executor& executor);
  /// Waits for nothing: a call that is under way is left alone, its answer is not heard any more.
  ~PrintThreads();
  PrintThreads(const PrintThreads&) = delete;
  PrintThreads& operator=(const PrintThreads&) = delete;

  /// Runs `work` on the thread of this queue, after what was given before, and posts what it returns to the executor. `work` may block; it must own
  /// all that it touches, for it may outlive everything but the process.
  void run(const std::string& uri, std::function<std::function<void()>()> work);

 private:
  struct Lane;
  struct Mailbox;
  std::shared_ptr<Mailbox> mailbox_;
  std::map<std::string, std::shared_ptr<Lane>> lanes_;
};

}  // namespace app
