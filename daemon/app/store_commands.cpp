// Commands that look into the store: through the daemon while it runs, read-only when it is down.
#include <fmt/format.h>

#include <cstdio>
#include <filesystem>

#include "app/ask_daemon.h"
#include "app/case_notes.h"
#include "app/commands.h"
#include "app/forget_versions.h"
#include "app/load_rules.h"
#include "app/open_store.h"
#include "app/plan_clock.h"
#include "app/evaluate.h"
#include "app/ledger_text.h"
#include "app/served.h"
#include "store/sqlite_store.h"

namespace app {
namespace {

int fail(const store::Error& error) {
  fmt::print(stderr, "store: {}\n", error.text);
  return 1;
}

store::Result<void> change_item(store::Store& store, const LedgerOptions& o, Millis now) {
  if (o.retry_event) return store.retry_event(*o.retry_event, o.reason, now);
  if (o.discard_event) return store.discard_event(*o.discard_event, o.reason, now);
  if (o.retry_write) return store.retry_write(*o.retry_write, o.reason, now);
  return store.discard_write(*o.discard_write, o.reason, now);
}

int show(const store::Result<std::string>& text) {
  if (text.has_error()) return fail(text.error());
  fmt::print("{}", *text);
  return 0;
}

bool changes(const LedgerOptions& o) { return o.retry_event || o.discard_event || o.retry_write || o.discard_write; }

}  // namespace

int ledger(const LedgerOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  Rules& rules = *loaded.rules;
  if (changes(options) && options.reason.empty()) {
    fmt::print(stderr, "--reason is needed: it is kept with the item\n");
    return 2;
  }
  if (!changes(options))
    if (const auto answer = ask_daemon(rules, "GET", options.list ? "/ledger?list=yes" : "/ledger")) {
      fmt::print("{}", answer->body);
      return answer->status == 200 ? 0 : 1;
    }
  const auto random = system_random();
  auto opened = changes(options) ? open_store(rules, *random) : open_store_to_read(rules);
  if (opened.has_error()) {
    if (opened.error().kind == store::ErrorKind::busy) fmt::print(stderr, "the daemon runs: stop it to retry or discard items\n");
    return fail(opened.error());
  }
  store::Store& store = **opened;
  if (changes(options)) {
    const Millis now = system_plan_clock(0)->now();
    if (const auto done = change_item(store, options, now); done.has_error()) return fail(done.error());
    fmt::print("done\n");
  }
  return show(ledger_text(store, options.list));
}

int shadow(const ShadowOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  if (const auto answer = ask_daemon(*loaded.rules, "GET", "/shadow")) {
    fmt::print("{}", answer->body);
    return answer->status == 200 ? 0 : 1;
  }
  auto opened = open_store_to_read(*loaded.rules);
  if (opened.has_error()) return fail(opened.error());
  const auto clock = system_plan_clock(0);
  return show(Served(**opened, *clock, kShadowSource).as_lines());
}

int explain(const ExplainOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  if (const auto answer = ask_daemon(*loaded.rules, "GET", "/explain?procedure=" + options.procedure)) {
    fmt::print("{}", answer->body);
    return answer->status == 200 ? 0 : 1;
  }
  auto opened = open_store_to_read(*loaded.rules);
  if (opened.has_error()) return fail(opened.error());
  const auto keys = (*opened)->case_keys(100000);
  if (keys.has_error()) return fail(keys.error());
  for (const std::string& key : *keys) {
    if (procedure_of(key) != options.procedure) continue;
    const auto row = (*opened)->case_of(key);
    if (row.has_error() || !*row) continue;
    Evaluator evaluator(**opened, *loaded.rules, silent_log());
    const auto text = evaluator.explain({(*row)->source, (*row)->patient}, options.procedure, (*row)->as_of);
    if (text.has_error()) return fail(text.error());
    fmt::print("{}", *text);
    return 0;
  }
  fmt::print(stderr, "no case is known for {}\n", options.procedure);
  return 1;
}

int backup(const BackupOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  const std::string to = std::filesystem::absolute(options.file).string();
  if (const auto answer = ask_daemon(*loaded.rules, "POST", "/backup?to=" + to)) {
    fmt::print("{}", answer->body);
    return answer->status == 200 ? 0 : 1;
  }
  auto opened = open_store_to_read(*loaded.rules);
  if (opened.has_error()) return fail(opened.error());
  if (const auto done = (*opened)->backup_to(to); done.has_error()) return fail(done.error());
  fmt::print("written to {}\n", to);
  return 0;
}

namespace {

/// The record may have gone on since the copy was made: every version is asked for before anything is written.
store::Result<void> mark_restored(store::Store& store) {
  const auto last = store.last_clock_reading();
  const auto keys = store.case_keys(1000000);
  if (last.has_error()) return last.error();
  if (keys.has_error()) return keys.error();
  return store.transaction(last->value_or(0), [&](store::Store& inside) -> store::Result<void> {
    for (const std::string& key : *keys)
      if (auto forgotten = forget_versions(inside, key); forgotten.has_error()) return forgotten;
    if (auto doubted = inside.doubt_prints(last->value_or(0)); doubted.has_error()) return doubted.error();
    return {};
  });
}

}  // namespace

int restore(const BackupOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  const auto& path = loaded.rules->configuration.store.path;
  std::error_code failed;
  if (std::filesystem::exists(path, failed)) {
    fmt::print(stderr, "{} is there already: a copy is only put in place of nothing\n", path.string());
    return 2;
  }
  store::SqliteOptions copy;
  copy.path = options.file;
  copy.read_only = true;
  const auto checked = store::open_sqlite(copy);
  if (checked.has_error()) return fail(checked.error());
  if (const auto sound = (*checked)->verify(); sound.has_error()) return fail(sound.error());
  std::filesystem::create_directories(path.parent_path(), failed);
  if (const auto copied = (*checked)->backup_to(path.string()); copied.has_error()) return fail(copied.error());
  auto opened = open_store_to_mend(*loaded.rules);
  if (opened.has_error()) return fail(opened.error());
  if (const auto marked = mark_restored(**opened); marked.has_error()) return fail(marked.error());
  if (const auto closed = (*opened)->close(); closed.has_error()) return fail(closed.error());
  fmt::print("restored to {}\nEvents that came after the copy was made are not in it: let the senders send them again before anybody relies on a plan.\n", path.string());
  return 0;
}

}  // namespace app
