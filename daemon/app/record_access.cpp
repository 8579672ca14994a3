#include "app/record_access.h"

#include <fmt/format.h>
#include <openssl/rand.h>

#include <cstdlib>
#include <fstream>
#include <iterator>
#include <optional>

#include "transport/file_stamp.h"

namespace app {
namespace {

using Configured = profile::Configuration::Access;

std::string random_id() {
  unsigned char bytes[24];
  if (RAND_bytes(bytes, sizeof bytes) != 1) return {};
  return auth::base64url(std::string_view(reinterpret_cast<const char*>(bytes), sizeof bytes));
}

double chance() {
  std::uint16_t drawn = 0;
  RAND_bytes(reinterpret_cast<unsigned char*>(&drawn), sizeof drawn);
  return static_cast<double>(drawn) / 65536;
}

/// Read anew after a refusal: a secret may be replaced while the daemon runs.
std::function<std::string()> header_from(const std::filesystem::path& file, std::function<std::string(const std::string&)> made) {
  return [file, made = std::move(made)] {
    const auto secret = read_secret(file);
    return secret.has_error() ? std::string{} : made(secret->text);
  };
}

}  // namespace

std::filesystem::path secret_path(const std::filesystem::path& named) {
  constexpr std::string_view prefix = "credential:";
  const char* folder = std::getenv("CREDENTIALS_DIRECTORY");
  const std::string name = named.string().starts_with(prefix) ? named.string().substr(prefix.size()) : "";
  if (!folder || name.empty() || name == ".." || name.find('/') != std::string::npos) return named;
  return std::filesystem::path(folder) / name;
}

boost::system::result<Secret, AccessFault> read_secret(const std::filesystem::path& named) {
  const auto file = secret_path(named);
  if (file.string().starts_with("credential:")) return AccessFault{fmt::format("{}: the service manager hands out no such credential here (CREDENTIALS_DIRECTORY is not set, or this is no plain name)", named.string())};
  std::error_code unseen;
  if (!std::filesystem::is_regular_file(file, unseen)) return AccessFault{fmt::format("{} is no file that can be read", file.string())};
  std::ifstream in(file, std::ios::binary);
  if (!in) return AccessFault{fmt::format("{} cannot be read", file.string())};
  std::string text(std::istreambuf_iterator<char>(in), {});
  while (!text.empty() && (text.back() == '\n' || text.back() == '\r')) text.pop_back();
  if (text.empty()) return AccessFault{fmt::format("{} is empty", file.string())};
  return Secret{std::move(text)};
}

boost::system::result<auth::SigningKey, AccessFault> key_from(const std::filesystem::path& file, const char* name) {
  auto pem = read_secret(file);
  if (pem.has_error()) return AccessFault{fmt::format("access.{}: {}", name, pem.error().text)};
  auto key = auth::SigningKey::read(pem->text);
  if (key.has_error()) return AccessFault{fmt::format("access.{}: {}: {}", name, file.string(), key.error().text)};
  return *key;
}

boost::system::result<std::unique_ptr<SigningKeys>, AccessFault> SigningKeys::open(std::filesystem::path file, std::filesystem::path next) {
  std::unique_ptr<SigningKeys> keys(new SigningKeys(std::move(file), std::move(next)));
  if (const auto read = keys->read(); read.has_error()) return read.error();
  return keys;
}

/// All or nothing: on a fault what was read before stays. The stamp comes first, so that a change while it is read is seen the next time.
boost::system::result<void, AccessFault> SigningKeys::read() {
  stamp_ = transport::stamp_of({secret_path(file_).string(), secret_path(next_).string()});
  const auto key = key_from(file_, "key_file");
  if (key.has_error()) return key.error();
  std::vector<auth::SigningKey> keys{*key};
  std::error_code unseen;
  if (!next_.empty() && std::filesystem::exists(secret_path(next_), unseen)) {
    const auto next = key_from(next_, "next_key_file");
    if (next.has_error()) return next.error();
    if (next->id() != key->id()) keys.push_back(*next);
  }
  keys_ = std::move(keys);
  return {};
}

void SigningKeys::refresh() {
  if (stamp_ == transport::stamp_of({secret_path(file_).string(), secret_path(next_).string()})) return;
  const auto taken = read();
  trouble_ = taken.has_error() ? taken.error().text : "";
}

auth::SigningKey SigningKeys::signing() {
  const std::scoped_lock lock(mutex_);
  refresh();
  return keys_.front();
}

json::Value SigningKeys::published() {
  const std::scoped_lock lock(mutex_);
  refresh();
  return auth::key_set(keys_);
}

std::string SigningKeys::trouble() {
  const std::scoped_lock lock(mutex_);
  refresh();
  return trouble_;
}

std::string wanted_scope(const profile::Configuration& configuration) {
  std::string scope = configuration.access.scope;
  const auto need = [&scope](bool needed, const std::string& type, const char* what) {
    if (needed && scope.find("/" + type + ".") == std::string::npos) scope += " system/" + type + what;
  };
  const bool documents = configuration.record && configuration.record->writing == "documents";
  need(configuration.subscriptions.form != "none", "Subscription", ".cruds");
  need(documents && configuration.documents.communication == "yes", "Communication", ".crs");
  need(configuration.roster.lists.find("Group") != std::string::npos, "Group", ".rs");
  need(!configuration.roster.appointments.empty(), "Appointment", ".rs");
  return scope;
}

boost::system::result<std::unique_ptr<RecordAccess>, AccessFault> RecordAccess::open(transport::Io& io, transport::Timers& timers, const Rules& rules) {
  const auto& record = *rules.configuration.record;
  const Configured& access = rules.configuration.access;
  std::unique_ptr<RecordAccess> out(new RecordAccess);
  transport::ClientOptions options;
  options.max_parallel = static_cast<std::size_t>(rules.configuration.limits.record_parallel);
  options.ca_file = record.ca_file.string();
  options.certificate_file = access.certificate.string();
  options.key_file = secret_path(access.certificate_key).string();
  out->client_ = std::make_unique<transport::HttpClient>(io, options);
  if (access.kind == "bearer") {
    out->credentials_ = auth::fixed_credentials("bearer", header_from(access.token_file, [](const std::string& token) { return "Bearer " + token; }));
  } else if (access.kind == "basic") {
    out->credentials_ = auth::fixed_credentials("basic", header_from(access.password_file, [user = access.user](const std::string& password) { return auth::basic_header(user, password); }));
  } else if (access.kind == "backend-services") {
    auto keys = SigningKeys::open(access.key_file, access.next_key_file);
    if (keys.has_error()) return keys.error();
    out->keys_ = std::move(*keys);
    auth::BackendServiceOptions wanted;
    wanted.base_url = record.base_url;
    wanted.token_url = access.token_url;
    wanted.client_id = access.client_id;
    wanted.scope = wanted_scope(rules.configuration);
    wanted.now = [] { return std::chrono::duration_cast<std::chrono::seconds>(std::chrono::system_clock::now().time_since_epoch()).count(); };
    wanted.fresh_id = random_id;
    wanted.chance = chance;
    out->credentials_ = auth::backend_service(*out->client_, [keys = out->keys_.get()] { return keys->signing(); }, wanted);
  } else {
    out->credentials_ = auth::no_credentials();
  }
  const auto& limits = rules.configuration.limits;
  transport::PoliteOptions manners;
  manners.per_second = static_cast<double>(limits.record_per_second);
  manners.parallel = static_cast<std::size_t>(limits.record_parallel);
  manners.longest_pause = std::chrono::seconds{limits.longest_backoff_seconds};
  manners.chance = chance;
  manners.fresh_id = random_id;
  out->polite_ = std::make_unique<transport::PoliteNetwork>(*out->client_, timers, manners);
  out->network_ = std::make_unique<auth::AuthorizedNetwork>(*out->polite_, *out->credentials_, record.base_url, [&io](std::function<void()> work) { io.post(std::move(work)); });
  return out;
}

}  // namespace app
