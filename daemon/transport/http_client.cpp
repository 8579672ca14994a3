#include "transport/http_client.h"
#include "transport/file_stamp.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <list>
#include <map>
#include <utility>

#include "transport/client_connection.h"
#include "transport/io_context.h"

namespace net = boost::asio;
using boost::system::error_code;

namespace transport {
namespace {

struct Job {
  Job(OutgoingRequest r, std::function<void(Outcome)> d, net::any_io_executor const& executor)
      : request(std::move(r)), done(std::move(d)), deadline(executor, request.timeout) {}

  /// The first outcome counts.
  void finish(Outcome outcome) noexcept {
    deadline.cancel();
    if (auto const call = std::exchange(done, nullptr)) call(std::move(outcome));
  }
  bool finished() const { return !done; }

  OutgoingRequest request;
  Destination to;
  std::function<void(Outcome)> done;
  net::steady_timer deadline;
  std::shared_ptr<ClientConnection> connection;  // while it is under way
  bool exchanging = false;                       // bytes may have left
};

/// A connection waiting for the next request.
struct Idle {
  std::shared_ptr<ClientConnection> connection;
  std::shared_ptr<net::steady_timer> patience;
};

struct Origin {
  std::deque<std::shared_ptr<Job>> waiting;
  std::size_t under_way = 0;
  std::list<Idle> idle;
};

bool may_be_repeated(OutgoingRequest const& request) { return request.method == "GET" || request.method == "HEAD"; }

}  // namespace

class HttpClient::Pool : public std::enable_shared_from_this<Pool> {
 public:
  Pool(Io& io, ClientOptions options) : options_(std::move(options)), executor_(serial_executor(io)) {}

  net::any_io_executor const& executor() const { return executor_; }
  void take(std::shared_ptr<Job> const& job);
  void close();

 private:
  void start_waiting(Origin& origin);
  void start(Origin& origin, std::shared_ptr<Job> job);
  net::awaitable<void> run(Origin& origin, std::shared_ptr<Job> job);
  net::awaitable<Exchange> attempt(Job& job, bool reused);
  std::optional<Failure> read_files();
  net::awaitable<std::optional<Failure>> connect(Job& job);
  std::shared_ptr<ClientConnection> take_idle(Origin& origin);
  void keep(Origin& origin, std::shared_ptr<ClientConnection> connection);
  void out_of_time(Job& job);

  ClientOptions options_;
  net::any_io_executor executor_;  // everything below happens on it
  std::map<std::string, Origin> origins_;
  std::shared_ptr<net::ssl::context> tls_, before_;
  std::string stamp_;  // of its files
  std::chrono::steady_clock::time_point looked_{};
  std::map<Job*, std::weak_ptr<Job>> jobs_;
  bool closed_ = false;
};

void HttpClient::Pool::take(std::shared_ptr<Job> const& job) {
  if (closed_) return;
  auto to = destination_of(job->request);
  if (!to) return job->finish(std::move(to.error()));
  job->to = std::move(*to);
  auto& origin = origins_[job->to.origin];
  if (origin.waiting.size() >= options_.max_waiting)
    return job->finish(Failure{FailureKind::not_sent, job->to.origin + ": too many requests are waiting."});
  job->deadline.async_wait([pool = shared_from_this(), job](error_code const& cancelled) {
    if (!cancelled) pool->out_of_time(*job);
  });
  origin.waiting.push_back(job);
  start_waiting(origin);
}

void HttpClient::Pool::start_waiting(Origin& origin) {
  while (!closed_ && origin.under_way < options_.max_parallel && !origin.waiting.empty()) {
    auto job = std::move(origin.waiting.front());
    origin.waiting.pop_front();
    if (!job->finished()) start(origin, std::move(job));
  }
}

void HttpClient::Pool::start(Origin& origin, std::shared_ptr<Job> job) {
  ++origin.under_way;
  jobs_.emplace(job.get(), job);
  net::co_spawn(executor_, run(origin, job), [pool = shared_from_this(), &origin, job](std::exception_ptr const& fault) {
    if (fault) job->finish(Failure{job->exchanging ? FailureKind::maybe_sent : FailureKind::not_sent, job->to.origin + ": out of resources."});
    job->connection.reset();
    pool->jobs_.erase(job.get());
    --origin.under_way;
    pool->start_waiting(origin);
  });
}

net::awaitable<void> HttpClient::Pool::run(Origin& origin, std::shared_ptr<Job> job) {
  job->connection = take_idle(origin);
  bool const reused = job->connection != nullptr;
  auto exchange = co_await attempt(*job, reused);
  bool const stale = reused && !exchange.answer_began && std::holds_alternative<Failure>(exchange.outcome);
  if (stale && !job->finished() && may_be_repeated(job->request)) exchange = co_await attempt(*job, false);
  if (exchange.reusable && !job->finished()) keep(origin, std::move(job->connection));
  job->finish(std::move(exchange.outcome));
}

net::awaitable<Exchange> HttpClient::Pool::attempt(Job& job, bool reused) {
  if (!reused) {
    job.exchanging = false;
    auto failed = co_await connect(job);
    if (failed || job.finished()) co_return Exchange{failed.value_or(Failure{})};
  }
  job.exchanging = true;
  co_return co_await job.connection->exchange(job.request, job.to);
}

/// A renewed certificate is shown without a restart.
std::optional<Failure> HttpClient::Pool::read_files() {
  auto const now = std::chrono::steady_clock::now();
  if (tls_ && now - looked_ < std::chrono::seconds{1}) return std::nullopt;
  looked_ = now;
  auto seen = stamp_of({options_.ca_file, options_.certificate_file, options_.key_file});
  if (tls_ && seen == stamp_) return std::nullopt;
  auto made = make_tls_context(options_.ca_file, options_.certificate_file, options_.key_file);
  if (!made && !tls_) return std::move(made.error());
  stamp_ = std::move(seen);
  if (made) before_ = std::exchange(tls_, *made);
  return std::nullopt;
}

net::awaitable<std::optional<Failure>> HttpClient::Pool::connect(Job& job) {
  if (job.to.tls)
    if (auto trouble = read_files()) co_return trouble;
  job.connection = std::make_shared<ClientConnection>(executor_);
  co_return co_await job.connection->open(job.to, options_.connect_timeout, job.to.tls ? tls_.get() : nullptr);
}

/// The one used last, so that surplus ones time out.
std::shared_ptr<ClientConnection> HttpClient::Pool::take_idle(Origin& origin) {
  while (!origin.idle.empty()) {
    auto const idle = std::move(origin.idle.back());
    origin.idle.pop_back();
    idle.patience->cancel();
    if (idle.connection->is_quiet()) return idle.connection;
  }
  return nullptr;
}

void HttpClient::Pool::keep(Origin& origin, std::shared_ptr<ClientConnection> connection) {
  auto const patience = std::make_shared<net::steady_timer>(executor_, options_.idle_timeout);
  patience->async_wait([pool = shared_from_this(), &origin, key = connection.get()](error_code const& cancelled) {
    if (!cancelled) origin.idle.remove_if([key](Idle const& idle) { return idle.connection.get() == key; });
  });
  origin.idle.push_back({std::move(connection), patience});
}

void HttpClient::Pool::out_of_time(Job& job) {
  auto const kind = job.exchanging ? FailureKind::timeout : FailureKind::not_sent;
  auto const* const when = job.exchanging ? "no answer in time." : "no connection in time.";
  if (job.connection) job.connection->close();
  std::erase_if(origins_[job.to.origin].waiting, [&job](auto const& other) { return other.get() == &job; });
  job.finish(Failure{kind, job.to.origin + ": " + when});
}

void HttpClient::Pool::close() {
  closed_ = true;
  for (auto& [name, origin] : origins_) {
    for (auto const& job : origin.waiting) {
      job->done = nullptr;
      job->deadline.cancel();
    }
    for (auto const& idle : origin.idle) idle.patience->cancel();
    origin.waiting.clear();
    origin.idle.clear();
  }
  for (auto const& entry : jobs_)
    if (auto const job = entry.second.lock()) {
      job->done = nullptr;
      job->deadline.cancel();
      if (job->connection) job->connection->close();
    }
}

std::string trouble_with_files(ClientOptions const& options) {
  auto const made = make_tls_context(options.ca_file, options.certificate_file, options.key_file);
  return made ? std::string() : made.error().text;
}

HttpClient::HttpClient(Io& io, ClientOptions options) : io_(io), pool_(std::make_shared<Pool>(io, std::move(options))) {}

HttpClient::~HttpClient() {
  run_and_wait(io_, pool_->executor(), [this] { pool_->close(); });
}

void HttpClient::send(OutgoingRequest request, std::function<void(Outcome)> done) {
  auto const job = std::make_shared<Job>(std::move(request), std::move(done), pool_->executor());
  net::post(pool_->executor(), [pool = pool_, job] { pool->take(job); });
}

}  // namespace transport
