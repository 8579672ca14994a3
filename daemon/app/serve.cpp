// The daemon: everything wired together, one line an object, in the order in which each needs the one before.
#include <fmt/format.h>
#include <signal.h>

#include <condition_variable>
#include <filesystem>
#include <fstream>
#include <mutex>

#include "app/admin.h"
#include "app/ask_daemon.h"
#include "app/chart_folder.h"
#include "app/commands.h"
#include "app/engine.h"
#include "app/intake.h"
#include "app/listening.h"
#include "app/load_rules.h"
#include "app/open_store.h"
#include "app/plan_clock.h"
#include "app/record_access.h"
#include "app/serve_fhir.h"
#include "app/worker.h"
#include "fhir/date_time.h"
#include "json/tree.h"
#include "transport/http_server.h"
#include "transport/io.h"

namespace app {
namespace {

/// What ends the daemon: a signal, or a store that has failed.
class Stop {
 public:
  void end(int code, std::string why) {
    {
      const std::scoped_lock lock(mutex_);
      if (code_) return;
      code_ = code;
      why_ = std::move(why);
    }
    ended_.notify_one();
  }
  bool ended() {
    const std::scoped_lock lock(mutex_);
    return code_.has_value();
  }
  int wait(std::string& why) {
    std::unique_lock lock(mutex_);
    ended_.wait(lock, [this] { return code_.has_value(); });
    why = why_;
    return *code_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable ended_;
  std::optional<int> code_;
  std::string why_;
};

/// Signals are taken by one thread that does nothing else.
std::thread signal_thread(Stop& ending, const sigset_t& signals) {
  return std::thread([&ending, signals] {
    int got = 0;
    sigwait(&signals, &got);
    ending.end(0, got == SIGUSR2 ? "" : fmt::format("signal {}", got));
  });
}

std::unique_ptr<PlanClock> clock_for(const ServeOptions& options, Millis not_before, std::string& fault) {
  if (options.clock_from.empty() && !options.clock_speed_given) return system_plan_clock(not_before);
  Millis from = not_before;
  if (!options.clock_from.empty()) {
    const auto read = fhir::read_time(options.clock_from);
    if (read.has_error() || !read->exact()) {
      fault = "--clock-from: an instant with a zone is needed, for example 2026-03-02T14:00:00Z";
      return nullptr;
    }
    from = read->earliest.time_since_epoch().count() * 1000;
  } else {
    from = std::max(not_before, system_plan_clock(0)->now());
  }
  return rehearsal_plan_clock(from, options.clock_speed, not_before);
}

bool write_ports(const std::string& file, const std::string& public_address, const std::string& admin_address) {
  if (file.empty()) return true;
  const std::string part = file + ".part";
  std::ofstream(part) << json::write(json::Value::object({{"public", public_address}, {"admin", admin_address}})) << "\n";
  std::error_code failed;
  std::filesystem::rename(part, file, failed);
  return !failed;
}

int fail(Log& log, const std::string& line, int code = 1) {
  log.error(line);
  return code;
}

/// Invented patients of a rehearsal never meet a real evening in one store, whatever clock the daemon is started on next. Empty: they do not.
std::string mixed_clocks(store::Store& store, bool rehearsal) {
  const auto kind = store.meta_once("clock", rehearsal ? "rehearsal" : "real");
  if (kind.has_error()) return kind.error().text;
  if (*kind == "rehearsal" && !rehearsal)
    return "this store was filled on a rehearsal clock; do: start it again with --clock-from, or let store.url name an empty place";
  if (*kind == "real" && rehearsal) return "this store was filled on the machine's clock; do: rehearse in an empty place (store.url), and leave this one alone";
  return "";
}

/// Our public keys for the authorisation server, beside what the intake serves. It may keep them for an hour: the next key is published for longer before it signs.
transport::Handler with_keys(RecordAccess* access, transport::Handler intake) {
  if (!access || access->key_set().is_null()) return intake;
  return [access, intake = std::move(intake)](transport::Request request, transport::Reply reply) {
    if (request.target != "/.well-known/jwks.json") return intake(std::move(request), std::move(reply));
    if (request.method != "GET" && request.method != "HEAD") return reply({405, {{"Allow", "GET, HEAD"}}, ""});
    reply({200, {{"Content-Type", "application/json"}, {"Cache-Control", "max-age=3600"}}, json::write(access->key_set())});
  };
}

constexpr std::int64_t kCertificateWarning = 14 * 86'400;  // common practice, no source

std::int64_t seconds_until(std::int64_t end) { return end - std::chrono::duration_cast<std::chrono::seconds>(std::chrono::system_clock::now().time_since_epoch()).count(); }

void add_access(report::Status& s, RecordAccess* access, const std::string& own_certificate, std::optional<std::int64_t> certificate_ends, const std::string& certificate_trouble) {
  if (!certificate_trouble.empty()) s.alarms.push_back("the intake's certificate was changed and cannot be taken: " + certificate_trouble);
  if (access) {
    const auto state = access->state();
    s.access = {state.kind, state.trouble, state.not_granted, state.valid_seconds, std::nullopt};
    if (const auto end = own_certificate.empty() ? std::nullopt : transport::certificate_end(own_certificate)) {
      s.access.certificate_seconds = seconds_until(*end);
      if (*s.access.certificate_seconds < kCertificateWarning) s.alarms.push_back(fmt::format("the certificate that we show to the record ends in {} days", *s.access.certificate_seconds / 86'400));
    }
    if (const auto trouble = access->key_trouble(); !trouble.empty()) s.alarms.push_back("the key that signs for us was changed and cannot be taken; the one read before still signs: " + trouble);
    const auto manners = access->manners();
    s.pace = {manners.per_second, static_cast<std::int64_t>(manners.parallel), static_cast<std::int64_t>(manners.waiting), manners.resting};
    if (!manners.resting.empty()) s.alarms.push_back(manners.resting);
    if (!state.trouble.empty()) {
      s.alarms.push_back("access to the record: " + state.trouble);
      s.not_ready.push_back("there is no access to the record");
    }
    for (const auto& scope : state.not_granted) s.not_ready.push_back("the authorisation server does not grant " + scope);
  }
  if (certificate_ends) {
    s.certificate_seconds = seconds_until(*certificate_ends);
    if (*s.certificate_seconds < kCertificateWarning) s.alarms.push_back(fmt::format("the intake's certificate ends in {} days", *s.certificate_seconds / 86'400));
  }
}

}  // namespace

int serve(const ServeOptions& options) {
  Log& log = standard_log();
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  print_faults(loaded.notes);
  if (!loaded.rules) return 2;
  Rules& rules = *loaded.rules;
  rules.rehearsal = !options.clock_from.empty() || options.clock_speed_given;
  const auto& record = rules.configuration.record;
  if (rules.rehearsal && record && record->purpose == "production")
    return fail(log, "--clock-from and --clock-speed are for rehearsals and tests; they are refused with a production record", 2);

  sigset_t signals;
  sigemptyset(&signals);
  for (const int signal : {SIGTERM, SIGINT, SIGUSR2}) sigaddset(&signals, signal);
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  ::signal(SIGPIPE, SIG_IGN);
  ::signal(SIGHUP, SIG_IGN);  // certificates, tokens and senders' secrets are read anew when their files change; nothing has to be said

  const auto random = system_random();
  auto opened = open_store(rules, *random);
  if (opened.has_error()) return fail(log, "store: " + opened.error().text);
  const std::unique_ptr<store::Store> store = std::move(*opened);
  const auto last = store->last_clock_reading();
  if (last.has_error()) return fail(log, "store: " + last.error().text);
  std::string fault = mixed_clocks(*store, rules.rehearsal);
  if (!fault.empty()) return fail(log, "store: " + rules.configuration.store.path.string() + ": " + fault, 2);
  const auto clock = clock_for(options, last->value_or(0), fault);
  if (!clock) return fail(log, fault, 2);

  Stop ending;
  std::thread signal_waiter = signal_thread(ending, signals);
  transport::Io io;
  transport::IoTimers timers(io);
  std::unique_ptr<RecordAccess> access;
  if (record) {
    auto opened_access = RecordAccess::open(io, timers, rules);
    if (opened_access.has_error()) ending.end(2, opened_access.error().text);
    else access = std::move(*opened_access);
  }
  const auto chart = chart_folder(rules.configuration.chart.folder.string());
  Senders senders(rules.configuration.listen, log);
  if (const auto wrong = senders.start(); !wrong.empty()) ending.end(2, wrong);
  int code = 0;
  {
    Worker worker;
    SideThreads print(worker);
    std::function<std::optional<std::int64_t>()> certificate_ends;
    std::function<std::string()> certificate_trouble;
    Engine engine({*store, *clock, worker, timers, *random, access ? &access->network() : nullptr, chart.get(), rules, log,
                   [&](report::Status& s) {
                     add_access(s, access.get(), rules.configuration.access.certificate.string(), certificate_ends ? certificate_ends() : std::nullopt, certificate_trouble ? certificate_trouble() : "");
                     s.refused_senders = senders.refused();
                   }, disk_watch(rules.configuration), &print});
    const std::string started = fhir::format_utc(fhir::Instant{std::chrono::seconds{clock->now() / 1000}});
    transport::ServerOptions public_options = intake_options(rules.configuration);
    public_options.on_trouble = [&log](std::string_view what) { log.warn("intake: " + std::string(what)); };
    public_options.refuse_head = head_check(senders, engine.hooks(), log, [&engine] { return engine.crowded(); });
    public_options.on_too_large = look_for_what_is_too_large(engine, rules, log);
    public_options.on_protocol_error = [](int status, std::string_view why) { return outcome_response(status, "invalid", why); };
    transport::ServerOptions admin_options{.address = rules.configuration.listen.admin_address, .body_limit = 1u << 20, .first_byte_timeout = std::chrono::seconds{2}};
    transport::HttpServer public_server(io, public_options, with_keys(access.get(), with_proof(senders, engine.hooks(), log, with_served(engine, worker, rules, intake_handler(engine, rules, started)))));
    certificate_ends = [&public_server] { return public_server.certificate_expires(); };
    certificate_trouble = [&public_server] { return public_server.certificate_trouble(); };
    transport::HttpServer admin_server(io, admin_options, admin_handler(engine, worker, *clock, *store));
    const auto listening = public_server.start();
    const auto admin_listening = admin_server.start();
    if (ending.ended()) {}  // said already
    else if (listening.has_error()) ending.end(1, listening.error().text);
    else if (admin_listening.has_error()) ending.end(1, admin_listening.error().text);
    else {
      const auto on_port = [](const std::string& address, std::uint16_t port) { return address.substr(0, address.rfind(':') + 1) + std::to_string(port); };
      const std::string at = on_port(rules.configuration.listen.public_address, public_server.port());
      const std::string admin_at = on_port(rules.configuration.listen.admin_address, admin_server.port());
      if (!write_ports(ports_beside(rules.configuration.store.path).string(), at, admin_at)) log.warn("the addresses could not be written beside the store: commands find the daemon by its configured port only");
      engine.start([&ending](const std::string& why) { ending.end(1, "the store has failed: " + why); });
      io.start();
      if (!write_ports(options.ports_file, at, admin_at)) ending.end(1, "cannot write " + options.ports_file);
      log.info(fmt::format("listening: events at {}://{}/fhir, admin at http://{}; {}; protocol {} {} ({})", rules.configuration.listen.tls_certificate.empty() ? "http" : "https", at, admin_at,
                           record ? "record " + record->base_url + " (" + record->purpose + ", " + record->mode + ")" : "no record: chart folder " + rules.configuration.chart.folder.string(),
                           rules.protocol.id, rules.protocol.version, rules.protocol.approved ? "approved" : "NOT APPROVED"));
      if (rules.rehearsal) log.warn("rehearsal: the plan clock is not the machine's; everything written says so");
    }
    std::string why;
    code = ending.wait(why);
    code == 0 ? log.info("stopping: " + why) : log.error("stopping: " + why);
    engine.stop();
    public_server.stop(std::chrono::seconds{5});
    admin_server.stop(std::chrono::seconds{1});
    worker.stop();
    io.stop();
  }
  ::pthread_kill(signal_waiter.native_handle(), SIGUSR2);
  signal_waiter.join();
  std::error_code gone;
  std::filesystem::remove(ports_beside(rules.configuration.store.path), gone);
  if (const auto closed = store->close(); closed.has_error()) return fail(log, "store: " + closed.error().text);
  return code;
}

}  // namespace app
