// The whole daemon in one thread, with everything of the world in the test's hands.
#pragma once

#include <filesystem>
#include <map>
#include <string>

#include "app/engine.h"
#include "app/intake.h"
#include "app/load_rules.h"
#include "app/plan_clock.h"
#include "app/worker.h"
#include "store/sqlite_store.h"

namespace app_test {

struct ManualTimers final : transport::Timers {
  transport::TimerId after(std::chrono::nanoseconds, std::function<void()> then) override {
    waiting[++last] = std::move(then);
    return transport::TimerId{last};
  }
  void cancel(transport::TimerId timer) override { waiting.erase(static_cast<std::uint64_t>(timer)); }
  void fire_all() {
    for (auto& [id, then] : std::exchange(waiting, {})) then();
  }
  std::map<std::uint64_t, std::function<void()>> waiting;
  std::uint64_t last = 0;
};

struct SeededRandom final : app::RandomSource {
  std::uint64_t next() override { return state = state * 6364136223846793005u + 1442695040888963407u; }
  std::uint64_t state = 42;
};

struct MemoryChart final : app::ChartDisk {
  std::string put(const std::string& path, std::string_view content) override {
    if (!fault.empty()) return fault;
    files[path] = content;
    return {};
  }
  std::map<std::string, std::string> files;
  std::string fault;
};

/// A daemon over a store in `folder`. Destroying it is a SIGKILL.
class Daemon {
 public:
  Daemon(const std::string& folder, MemoryChart& chart, const std::string& vfs, app::Millis at);
  ~Daemon();
  /// The answer's status, or 0 while there is none.
  int put(const std::string& type, const std::string& id, const std::string& body);
  /// Any request to the intake; status 0 while there is no answer.
  transport::Response send(const std::string& method, const std::string& target, const std::string& body = {}, transport::Headers headers = {});
  void run() { executor.run_all(); }

  ManualTimers timers;
  SeededRandom random;
  app::InlineExecutor executor;
  std::unique_ptr<app::PlanClock> clock;
  app::Rules rules;
  std::unique_ptr<store::Store> store;
  std::unique_ptr<app::Engine> engine;
  transport::Handler intake;
  std::string fatal;
};

std::string fresh_folder(const std::string& name);

}  // namespace app_test
