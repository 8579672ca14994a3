// The threads on which all sockets and timers of the process run.
#pragma once

#include <functional>
#include <memory>

namespace transport {

/// Owns the event loop and its threads. It must outlive every server, client and timer made with it, and every thread
/// that may still answer a request.
class Io {
 public:
  /// One thread serves tens of thousands of small requests a second; callbacks of one object never overlap, whatever
  /// the number of threads.
  explicit Io(unsigned threads = 1);
  ~Io();  ///< stops
  Io(Io const&) = delete;
  Io& operator=(Io const&) = delete;

  /// Starts the threads and returns. Once.
  void start();
  /// Lets the callbacks that are running end, drops the others, joins the threads. Not from an I/O thread. Final.
  void stop();
  bool running() const;
  bool on_io_thread() const;

  /// Runs `work` on an I/O thread, never inside this call. From any thread. With several threads, posted work may overlap.
  void post(std::function<void()> work);

  struct Impl;
  Impl& impl() { return *impl_; }  ///< for this folder

 private:
  std::unique_ptr<Impl> impl_;
};

}  // namespace transport
