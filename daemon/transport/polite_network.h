// A Network that is a good guest of one server: never faster than it bears, and silent while it is down.
#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "transport/network.h"
#include "transport/timers.h"

namespace transport {

struct PoliteOptions {
  double per_second = 5;        ///< requests begun, at most; as many may begin at once after a rest
  std::size_t parallel = 4;     ///< under way at once
  std::size_t waiting = 4096;   ///< in the queue; one more fails at once as not_sent
  int failures = 5;             ///< in a row without a usable answer, until nothing is sent for a while
  std::chrono::milliseconds first_pause = std::chrono::seconds{1};   ///< doubled each time, up to
  std::chrono::milliseconds longest_pause = std::chrono::minutes{5};
  std::chrono::milliseconds longest_wish = std::chrono::minutes{15}; ///< of a Retry-After that is followed to its end; after more the server is asked once whether it still means it
  std::function<double()> chance = {};       ///< 0 to 1, spreads the pauses of several clients by a fifth; none: not spread
  std::function<std::string()> fresh_id = {};///< X-Request-Id of each request, so that both sides' logs can be laid side by side; none: not sent
  std::function<std::chrono::steady_clock::time_point()> now = std::chrono::steady_clock::now;
};

struct Manners {
  double per_second = 0;         ///< as it stands now
  std::size_t parallel = 0;
  std::size_t waiting = 0;
  std::string resting;           ///< why nothing is sent just now, for people; empty: it is
};

/// Requests go out in their order. A 429, and any answer with Retry-After that says "not now", halves the pace and is followed; answers that come much later than they used to halve the pace and what is
/// under way; both recover step by step. While the server is left alone requests wait; once it counts as down they end at once as not_sent, but for one that tries after each pause.
/// Waiting counts towards a request's own timeout. It repeats nothing itself: that is for the one who knows what a request means. Thread-safe.
class PoliteNetwork final : public Network {
 public:
  PoliteNetwork(Network& network, Timers& timers, PoliteOptions options);
  ~PoliteNetwork() override;
  void send(OutgoingRequest request, std::function<void(Outcome)> done) override;
  Manners manners() const;

 private:
  class Gate;
  std::shared_ptr<Gate> gate_;
};

}  // namespace transport
