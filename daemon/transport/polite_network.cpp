#include "transport/polite_network.h"

#include <algorithm>
#include <cmath>
#include <deque>
#include <mutex>
#include <utility>

#include "transport/retry_after.h"

namespace transport {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::duration;
using std::chrono::milliseconds;

constexpr double slowest = 0.5;        // requests a second
constexpr double late = 4;             // times the usual latency
constexpr milliseconds late_at_least{1500};
constexpr double usual_weight = 0.05, recent_weight = 0.3;
constexpr int calm_answers = 10;       // good ones in a row, before a step up

}  // namespace

class PoliteNetwork::Gate : public std::enable_shared_from_this<Gate> {
 public:
  Gate(Network& network, Timers& timers, PoliteOptions options)
      : network_(network), timers_(timers), options_(std::move(options)), pace_(options_.per_second), parallel_(options_.parallel), credit_(std::max(1.0, options_.per_second)), counted_(options_.now()),
        pause_(options_.first_pause) {}

  void send(OutgoingRequest request, std::function<void(Outcome)> done) {
    auto const now = options_.now();
    {
      std::lock_guard const lock(mutex_);
      if (closed_) return;
      if (options_.fresh_id) request.headers.set("X-Request-Id", options_.fresh_id());
      auto const deadline = now + request.timeout;
      queue_.push_back({std::move(request), std::move(done), deadline});
      if (queue_.size() > options_.waiting) fail_later(std::exchange(queue_.back(), {}), "too many requests are waiting"), queue_.pop_back();
    }
    go_on();
  }

  Manners manners() {
    std::lock_guard const lock(mutex_);
    auto const left = std::chrono::ceil<std::chrono::seconds>(not_before_ - options_.now()).count();
    return {pace_, parallel_, queue_.size(), left > 0 ? why_ + "; nothing is sent for another " + std::to_string(left) + " s" : std::string{}};
  }

  void close() {
    std::lock_guard const lock(mutex_);
    closed_ = true;
    timers_.cancel(std::exchange(timer_, TimerId::none));
    queue_.clear();
  }

 private:
  struct Job {
    OutgoingRequest request;
    std::function<void(Outcome)> done;
    Clock::time_point deadline;
  };

  // Lets begin what may; keeps a timer for what may not yet.
  void go_on() {
    std::deque<Job> starting;
    {
      std::lock_guard const lock(mutex_);
      if (closed_) return;
      auto const now = options_.now();
      credit_ = std::min(std::max(1.0, pace_), credit_ + duration<double>(now - counted_).count() * pace_);
      counted_ = now;
      for (auto job = queue_.begin(); job != queue_.end();)
        if (now >= job->deadline) fail_later(std::move(*job), why_.empty() ? "its turn did not come in time" : why_), job = queue_.erase(job);
        else if (down_ && now < not_before_) fail_later(std::move(*job), why_), job = queue_.erase(job);
        else ++job;
      auto const room = [&] { return under_way_ < (down_ ? 1 : parallel_) && credit_ >= 1 && now >= not_before_; };
      while (!queue_.empty() && room()) {
        auto job = std::move(queue_.front());
        queue_.pop_front();
        --credit_, ++under_way_;
        job.request.timeout = std::max(milliseconds{1}, std::chrono::duration_cast<milliseconds>(job.deadline - now));
        starting.push_back(std::move(job));
      }
      if (!queue_.empty()) wait_for_turn(now);
    }
    for (auto& job : starting) start(std::move(job));
  }

  void wait_for_turn(Clock::time_point now) {
    timers_.cancel(std::exchange(timer_, TimerId::none));
    auto next = now + std::chrono::seconds{1};  // for deadlines
    if (now < not_before_) next = std::min(next, not_before_);
    else if (credit_ < 1) next = std::min(next, now + std::chrono::duration_cast<Clock::duration>(duration<double>((1 - credit_) / pace_)) + milliseconds{1});
    timer_ = timers_.after(next - now, [weak = weak_from_this()] {
      if (auto const self = weak.lock()) self->go_on();
    });
  }

  void start(Job job) {
    auto const begun = options_.now();
    network_.send(std::move(job.request), [weak = weak_from_this(), done = std::move(job.done), begun](Outcome outcome) {
      auto const self = weak.lock();
      if (self) self->ended(outcome, begun);
      done(std::move(outcome));
      if (self) self->go_on();
    });
  }

  void ended(Outcome const& outcome, Clock::time_point begun) {
    std::lock_guard const lock(mutex_);
    auto const now = options_.now();
    --under_way_;
    auto const* const answer = std::get_if<Response>(&outcome);
    if (!answer || answer->status == 502 || answer->status == 503 || answer->status == 504 || answer->status == 429) {
      // A 503 that says no time is an outage like any other; one that does, and every 429, is about the pace.
      if (answer && (answer->status == 429 || retry_after(*answer).count() > 0)) return slow_down(*answer, now);
      return failed(answer ? "it answered " + std::to_string(answer->status) : std::get<Failure>(outcome).text, now);
    }
    failures_ = 0, down_ = false, pause_ = options_.first_pause;
    if (now >= not_before_) why_.clear();
    learn(now - begun);
  }

  void slow_down(Response const& answer, Clock::time_point now) {
    pace_ = std::max(slowest, pace_ / 2), calm_ = 0;
    auto const asked = retry_after(answer);
    leave_alone(asked.count() > 0 ? std::min(milliseconds{asked}, options_.longest_wish) : spread(options_.first_pause), "the record asked to be left alone (" + std::to_string(answer.status) + ")", now);
  }

  void failed(std::string why, Clock::time_point now) {
    calm_ = 0;
    if (++failures_ < options_.failures) return;
    down_ = true;
    leave_alone(spread(pause_), "the record counts as down after " + std::to_string(failures_) + " failures: " + why, now);
    pause_ = std::min(pause_ * 2, options_.longest_pause);
  }

  void leave_alone(milliseconds length, std::string why, Clock::time_point now) {
    not_before_ = std::max(not_before_, now + length);
    why_ = std::move(why);
  }

  milliseconds spread(milliseconds pause) const {
    return options_.chance ? std::chrono::duration_cast<milliseconds>(pause * (0.9 + 0.2 * options_.chance())) : pause;
  }

  // What is usual moves slowly, what is recent fast.
  void learn(Clock::duration took) {
    double const ms = duration<double, std::milli>(took).count();
    recent_ = recent_ < 0 ? ms : recent_ + recent_weight * (ms - recent_);
    usual_ = usual_ < 0 ? ms : usual_ + usual_weight * (ms - usual_);
    if (recent_ > late * usual_ && recent_ > static_cast<double>(late_at_least.count())) {
      parallel_ = std::max<std::size_t>(1, parallel_ / 2), pace_ = std::max(slowest, pace_ / 2), calm_ = 0;
      recent_ = usual_;
      return;
    }
    if (++calm_ < calm_answers) return;
    calm_ = 0;
    pace_ = std::min(options_.per_second, pace_ * 1.5);
    parallel_ = std::min(options_.parallel, parallel_ + 1);
  }

  // Not from within the caller's own call.
  void fail_later(Job job, std::string const& why) {
    auto done = std::make_shared<std::function<void(Outcome)>>(std::move(job.done));
    timers_.after(std::chrono::nanoseconds{0}, [done, why] { (*done)(Failure{FailureKind::not_sent, "Not sent: " + why + "."}); });
  }

  Network& network_;
  Timers& timers_;
  PoliteOptions const options_;
  std::mutex mutex_;  // guards what follows
  std::deque<Job> queue_;
  double pace_;
  std::size_t parallel_, under_way_ = 0;
  double credit_;
  Clock::time_point counted_, not_before_{};
  milliseconds pause_;
  std::string why_;
  int failures_ = 0, calm_ = 0;
  bool down_ = false, closed_ = false;
  double usual_ = -1, recent_ = -1;
  TimerId timer_ = TimerId::none;
};

PoliteNetwork::PoliteNetwork(Network& network, Timers& timers, PoliteOptions options) : gate_(std::make_shared<Gate>(network, timers, std::move(options))) {}
PoliteNetwork::~PoliteNetwork() { gate_->close(); }
void PoliteNetwork::send(OutgoingRequest request, std::function<void(Outcome)> done) { gate_->send(std::move(request), std::move(done)); }
Manners PoliteNetwork::manners() const { return gate_->manners(); }

}  // namespace transport
