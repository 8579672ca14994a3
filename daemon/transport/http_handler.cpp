#include "transport/http_handler.h"

#include <atomic>

namespace transport {

struct Reply::State {
  explicit State(std::function<void(Response)> d) : deliver(std::move(d)) {}
  State(State const&) = delete;
  State& operator=(State const&) = delete;
  ~State() { give({.status = 500}); }

  void give(Response answer) {
    if (!given.exchange(true)) deliver(std::move(answer));
  }

  std::function<void(Response)> deliver;
  std::atomic<bool> given{false};
};

Reply::Reply(std::function<void(Response)> deliver) : state_(std::make_shared<State>(std::move(deliver))) {}

void Reply::operator()(Response answer) const { state_->give(std::move(answer)); }

}  // namespace transport
