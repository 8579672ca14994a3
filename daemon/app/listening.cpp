#include "app/listening.h"

#include <fmt/format.h>

#include <filesystem>
#include <sstream>

#include "app/intake.h"
#include "app/intake_path.h"
#include "app/record_access.h"
#include "transport/http_client.h"

namespace app {
namespace {

constexpr std::size_t kShortestSecret = 16;

boost::system::result<auth::SenderRules, AccessFault> sender_rules(const profile::Configuration::Listen& listen) {
  auth::SenderRules rules;
  rules.secret_header = listen.secret_header;
  rules.signature_header = listen.signature_header;
  rules.asks_secret = !listen.secret_file.empty();
  rules.asks_signature = !listen.signature_secret_file.empty();
  for (const auto& [file, secrets] : {std::pair{&listen.secret_file, &rules.secrets}, {&listen.signature_secret_file, &rules.signing_secrets}}) {
    if (file->empty()) continue;
    const auto text = read_secret(*file);
    if (text.has_error()) return AccessFault{"listen: " + text.error().text};
    *secrets = auth::secrets_of(text->text);
    if (secrets->empty()) return AccessFault{"listen: " + file->string() + " holds no secret"};
    for (const auto& secret : *secrets)
      if (secret.size() < kShortestSecret) return AccessFault{fmt::format("listen: a secret in {} is shorter than {} letters", file->string(), kShortestSecret)};
  }
  return rules;
}

}  // namespace

transport::ServerOptions intake_options(const profile::Configuration& configuration) {
  const auto& limits = configuration.limits;
  const auto& listen = configuration.listen;
  transport::ServerOptions options;
  options.address = listen.public_address;
  options.body_limit = static_cast<std::size_t>(limits.body_bytes);
  options.coded_bodies = true;  // the intake says what becomes of them
  options.header_limit = static_cast<std::uint32_t>(limits.header_bytes);
  options.max_connections = static_cast<std::size_t>(limits.connections);
  // Plain HTTP comes through a proxy on this machine: all of it from one address.
  options.max_per_address = static_cast<std::size_t>(listen.tls_certificate.empty() ? limits.connections : std::min(limits.connections, limits.connections_per_address));
  options.read_timeout = std::chrono::seconds{limits.read_seconds};
  options.answer_timeout = std::chrono::seconds{limits.answer_seconds};
  if (!listen.tls_certificate.empty()) {
    transport::ServerTlsFiles files{listen.tls_certificate.string(), secret_path(listen.tls_key).string(), listen.tls_client_ca.string(), {}};
    std::istringstream subjects(listen.tls_client_subjects);
    for (std::string subject; std::getline(subjects, subject, ';');)
      if (const auto from = subject.find_first_not_of(' '); from != std::string::npos) files.client_subjects.push_back(subject.substr(from, subject.find_last_not_of(' ') - from + 1));
    options.tls = std::move(files);
  }
  return options;
}

std::string Senders::start() {
  stamp_ = stamp();
  const auto rules = sender_rules(listen_);
  if (rules.has_error()) return rules.error().text;
  proof_.replace(*rules);
  return {};
}

auth::SenderProof& Senders::proof() {
  const std::scoped_lock lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  if (now - looked_ < std::chrono::seconds{1}) return proof_;
  looked_ = now;
  if (const auto seen = stamp(); seen != stamp_) {
    stamp_ = seen;
    const auto rules = sender_rules(listen_);
    if (rules.has_error()) log_.error("intake: nobody is let in: " + rules.error().text);
    else log_.info("intake: the senders' secrets have been read anew");
    auth::SenderRules none;
    none.asks_secret = !listen_.secret_file.empty(), none.asks_signature = !listen_.signature_secret_file.empty();
    proof_.replace(rules.has_error() ? none : *rules);
  }
  return proof_;
}

void Senders::refuse(const std::string& peer, const std::string& why) {
  ++refused_;
  const std::scoped_lock lock(mutex_);
  const auto now = std::chrono::steady_clock::now();
  if (said_ != std::chrono::steady_clock::time_point{} && now - said_ < std::chrono::minutes{1}) return void(++unsaid_);
  log_.warn(fmt::format("intake: {} refused: {}{}", peer, why, unsaid_ > 0 ? fmt::format("; {} more since the last such line", unsaid_) : ""));
  said_ = now;
  unsaid_ = 0;
}

std::string Senders::stamp() const {
  std::string out;
  for (const auto* named : {&listen_.secret_file, &listen_.signature_secret_file}) {
    std::error_code gone;
    const auto file = secret_path(*named);
    const auto time = std::filesystem::last_write_time(file, gone);
    out += gone ? "-" : fmt::format("{}:{} ", time.time_since_epoch().count(), std::filesystem::file_size(file, gone));
  }
  return out;
}

transport::Handler with_proof(Senders& senders, const Hooks& hooks, Log& log, transport::Handler intake) {
  if (senders.proof().asks_for_nothing()) return intake;
  return [&senders, &hooks, &log, intake = std::move(intake)](transport::Request request, transport::Reply reply) {
    if (hooks.ours(intake_path(request.method, request.target))) return intake(std::move(request), std::move(reply));
    auto& proof = senders.proof();
    const auto now = std::chrono::duration_cast<std::chrono::seconds>(std::chrono::system_clock::now().time_since_epoch()).count();
    if (const auto objection = proof.objection(request, now)) {
      if (objection->under_way) {
        auto later = outcome_response(503, "transient", objection->why);
        later.headers.set("Retry-After", "5");
        return reply(std::move(later));
      }
      if (objection->taken_before) return reply(outcome_response(200, "informational", objection->why));
      senders.refuse(request.peer, objection->why);
      return reply(outcome_response(401, "security", objection->why));
    }
    auto kept = std::make_shared<transport::Request>(transport::Request{.headers = request.headers});
    intake(std::move(request), transport::Reply([&proof, kept, reply](transport::Response response) {
             response.status >= 400 ? proof.forget(*kept) : proof.taken(*kept);  // what was not taken the sender repeats
             reply(std::move(response));
           }));
  };
}

std::function<std::optional<std::pair<int, std::string>>(const transport::Request&)> head_check(Senders& senders, const Hooks& hooks, Log& log, std::function<std::string()> crowded) {
  return [&senders, &hooks, &log, crowded = std::move(crowded)](const transport::Request& head) -> std::optional<std::pair<int, std::string>> {
    // A Subscription of ours has a secret of its own, and shows no other.
    const auto verdict = hooks.judge(intake_path(head.method, head.target), head.headers);
    if (verdict == Hooks::Verdict::unknown) return std::pair{404, "there is no Subscription of that name here"};
    if (verdict == Hooks::Verdict::forged) {
      senders.refuse(head.peer, "the secret of a Subscription is missing or wrong");
      return std::pair{401, "the secret of this Subscription is missing or wrong"};
    }
    if (auto why = verdict == Hooks::Verdict::genuine ? std::nullopt : senders.proof().objection_to_head(head)) {
      senders.refuse(head.peer, *why);
      return std::pair{401, std::move(*why)};
    }
    if (auto why = crowded(); !why.empty()) return std::pair{503, why + "; try again"};
    return std::nullopt;
  };
}

std::vector<std::string> trouble_with_files(const profile::Configuration& configuration) {
  std::vector<std::string> all;
  const auto note = [&](const std::string& where, const std::string& trouble) {
    if (!trouble.empty()) all.push_back(where.empty() ? trouble : where + ": " + trouble);
  };
  // Outside the service manager its credentials cannot be seen: nothing is said about them.
  const auto unseen = [](const std::filesystem::path& named) { return secret_path(named).string().starts_with("credential:"); };
  const auto& listen = configuration.listen;
  if (const auto tls = intake_options(configuration).tls; tls && !unseen(listen.tls_key)) note("listen", transport::trouble_with_files(*tls));
  if (!unseen(listen.secret_file) && !unseen(listen.signature_secret_file))
    if (const auto rules = sender_rules(listen); rules.has_error()) note("", rules.error().text);
  if (!configuration.record) return all;
  const auto& access = configuration.access;
  if (!unseen(access.certificate_key))
    note("record", transport::trouble_with_files(transport::ClientOptions{.ca_file = configuration.record->ca_file.string(), .certificate_file = access.certificate.string(), .key_file = secret_path(access.certificate_key).string()}));
  for (const auto& [name, file] : {std::pair{"access.token_file", &access.token_file}, {"access.password_file", &access.password_file}})
    if (!file->empty() && !unseen(*file))
      if (const auto secret = read_secret(*file); secret.has_error()) note(name, secret.error().text);
  for (const auto& [name, file] : {std::pair{"key_file", &access.key_file}, {"next_key_file", &access.next_key_file}})
    if (!file->empty() && !unseen(*file) && (name != std::string_view("next_key_file") || std::filesystem::exists(secret_path(*file))))
      if (const auto key = key_from(*file, name); key.has_error()) note("", key.error().text);
  return all;
}

}  // namespace app
