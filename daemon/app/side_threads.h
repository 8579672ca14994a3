// A thread for each thing that may hang (a print queue, a file on a share): it holds up nobody but itself.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>

#include "app/seams.h"

namespace app {

class SideThreads {
 public:
  explicit SideThreads(Executor& executor);
  /// Waits for nothing: a call that is under way is left alone, its answer is not heard any more.
  ~SideThreads();
  SideThreads(const SideThreads&) = delete;
  SideThreads& operator=(const SideThreads&) = delete;

  /// Runs `work` on the thread of this name (the address of a queue, a path), after what was given before, and posts what it returns to the executor. `work` may block; it must own
  /// all that it touches, for it may outlive everything but the process.
  void run(const std::string& name, std::function<std::function<void()>()> work);

 private:
  struct Lane;
  struct Mailbox;
  std::shared_ptr<Mailbox> mailbox_;
  std::map<std::string, std::shared_ptr<Lane>> lanes_;
};

}  // namespace app
