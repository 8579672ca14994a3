// The intake as it is configured: its address, limits and certificate, and who may send.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "app/hooks.h"
#include "app/log.h"
#include "auth/sender_proof.h"
#include "profile/configuration.h"
#include "transport/http_handler.h"
#include "transport/http_server.h"

namespace app {

transport::ServerOptions intake_options(const profile::Configuration&);

/// Senders' secrets, read anew when their files change: a secret that was taken out lets nobody in any more. Files that cannot be used let nobody in.
class Senders {
 public:
  Senders(const profile::Configuration::Listen& listen, Log& log) : listen_(listen), log_(log) {}

  /// Empty, or why the daemon cannot start with these files.
  std::string start();
  auth::SenderProof& proof();
  /// Requests answered 401 since the start.
  std::int64_t refused() const { return refused_; }
  /// Counts, and writes a line: one a minute, with how many there were meanwhile. Whoever knocks in vain does not fill the disk.
  void refuse(const std::string& peer, const std::string& why);

 private:
  std::string stamp() const;

  const profile::Configuration::Listen& listen_;
  Log& log_;
  auth::SenderProof proof_{auth::SenderRules{}};
  std::atomic<std::int64_t> refused_ = 0;
  std::mutex mutex_;  // guards what follows
  std::string stamp_;
  std::chrono::steady_clock::time_point looked_{}, said_{};
  std::int64_t unsaid_ = 0;
};

/// Whoever does not prove that we know him is answered 401 before anything of the body is read. Our own Subscriptions have secrets of their own, which the intake
/// compares.
transport::Handler with_proof(Senders& senders, const Hooks& hooks, Log& log, transport::Handler intake);

/// What is known before a body is read: whether its sender shows the secret (of its Subscription, or the configured one), and whether there is room. Nobody without proof makes us hold his bodies.
std::function<std::optional<std::pair<int, std::string>>(const transport::Request&)> head_check(Senders& senders, const Hooks& hooks, Log& log, std::function<std::string()> crowded);

/// Why the intake or the way to the record could not start with the files that are configured, each in a sentence; none: they could. Connects to nobody.
std::vector<std::string> trouble_with_files(const profile::Configuration&);

}  // namespace app
