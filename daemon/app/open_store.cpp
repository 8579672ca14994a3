#include "app/open_store.h"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>
#include <mutex>

#include "fhir/uuid.h"
#include "store/sqlite_store.h"

namespace app {
namespace {

store::Result<std::unique_ptr<store::Store>> open(const Rules& rules, bool read_only) {
  constexpr std::string_view scheme = "sqlite:";
  const std::string& url = rules.configuration.store.url;
  if (!url.starts_with(scheme)) return store::Error{store::ErrorKind::logic, "only sqlite: stores are supported in this version, not " + url.substr(0, url.find(':'))};
  store::SqliteOptions options;
  options.path = rules.configuration.store.path.string();
  options.quarantine_count = rules.configuration.limits.quarantine_count;
  options.quarantine_bytes = rules.configuration.limits.quarantine_bytes;
  options.read_only = read_only;
  if (!read_only) {
    std::error_code ignored;
    std::filesystem::create_directories(std::filesystem::path(options.path).parent_path(), ignored);
  }
  return store::open_sqlite(options);
}

std::string new_installation(RandomSource& random) {
  const std::string seed = fmt::format("{:016x}{:016x}", random.next(), random.next());
  return fhir::to_string(fhir::uuid5(fhir::kUrlNamespace, seed)).substr(0, 13);
}

store::Result<void> fill_in(Rules& rules, store::Store& store, RandomSource& random) {
  const std::string taken_over = rules.configuration.record ? rules.configuration.record->takes_over : "";
  auto installation = store.meta_once("installation", taken_over.empty() ? new_installation(random) : taken_over);
  if (installation.has_error()) return installation.error();
  if (!taken_over.empty() && *installation != taken_over)
    return store::Error{store::ErrorKind::logic, fmt::format("record.takes_over names {}, and this store is already that of installation {}: only an empty store can take another's place",
                                                             taken_over, *installation)};
  rules.installation = *installation;
  auto record_key = store.meta_once("record-key", rules.configuration.record ? rules.configuration.record->base_url : "offline");
  if (record_key.has_error()) return record_key.error();
  rules.record_key = *record_key;
  return {};
}

}  // namespace

store::Result<std::unique_ptr<store::Store>> open_store(Rules& rules, RandomSource& random) {
  auto opened = open(rules, false);
  if (opened.has_error()) return opened;
  if (auto filled = fill_in(rules, **opened, random); filled.has_error()) return filled.error();
  return opened;
}

store::Result<std::unique_ptr<store::Store>> open_store_to_mend(const Rules& rules) { return open(rules, false); }

store::Result<std::unique_ptr<store::Store>> open_store_to_read(Rules& rules) {
  auto opened = open(rules, true);
  if (opened.has_error()) return opened;
  if (const auto installation = (*opened)->meta("installation"); installation.has_value()) rules.installation = installation->value_or("");
  return opened;
}

std::function<bool()> disk_watch(const profile::Configuration& configuration) {
  struct Watch {
    std::mutex mutex;  // guards what follows
    std::chrono::steady_clock::time_point looked{};
    bool low = false;
  };
  return [watch = std::make_shared<Watch>(), folder = configuration.store.path.parent_path(), least = configuration.limits.disk_free_mebibytes << 20] {
    const std::scoped_lock lock(watch->mutex);
    const auto now = std::chrono::steady_clock::now();
    if (now - watch->looked < std::chrono::seconds{1}) return watch->low;
    watch->looked = now;
    std::error_code unseen;
    const auto room = std::filesystem::space(folder.empty() ? "." : folder, unseen);
    watch->low = !unseen && room.available < static_cast<std::uintmax_t>(least);
    return watch->low;
  };
}

}  // namespace app
