#include "app/load_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>

#include "fhir_read/load_terminology.h"
#include "profile/protocol_file.h"

namespace app {
namespace {

namespace fs = std::filesystem;
using tables::Fault;

/// A file as given, or one of profiles/ by its name; the fallback is always one of those.
fs::path named_profile(const std::string& data, const char* folder, const std::string& given, const char* fallback) {
  const fs::path profiles = fs::path(data) / "profiles" / folder;
  if (given.empty()) return profiles / fallback;
  return fs::exists(given) ? fs::path(given) : profiles / (given + (given.ends_with(".toml") ? "" : ".toml"));
}

void append(std::vector<Fault>& to, std::vector<Fault> more) { to.insert(to.end(), std::make_move_iterator(more.begin()), std::make_move_iterator(more.end())); }

/// Protocol, site, terminology, words and layout, from the files that rules.configuration names.
void load_parts(Rules& rules, LoadedRules& out) {
  auto protocol = profile::load_protocol(rules.configuration.protocol.file);
  append(out.faults, std::move(protocol.faults));
  append(out.notes, std::move(protocol.notes));
  out.values_sha256 = protocol.values_sha256;
  if (protocol.protocol) rules.protocol = std::move(*protocol.protocol);

  auto site = fhir_read::load_site_map(rules.configuration.site.file.string());
  if (site.has_value()) rules.site = std::move(*site);
  else append(out.faults, site.error());
  auto terminology = fhir_read::load_terminology((fs::path(rules.data) / "profiles" / "terminology").string());
  if (terminology.has_value()) rules.terminology = std::move(*terminology);
  else append(out.faults, terminology.error());
  if (site.has_value() && terminology.has_value()) {
    rules.site.local_codes = fhir_read::settle(rules.site.codes, rules.terminology);
    append(out.faults, rules.site.codes.faults);
    append(out.notes, fhir_read::notes_on(rules.site.codes.left_out));
  }
  auto words = words::load_words(fs::path(rules.data) / "templates", rules.configuration.site.language);
  append(out.faults, std::move(words.faults));
  rules.words = std::move(words.words);
  // What a language lacks is said in English rather than as a code; `check` fails for it.
  if (rules.words.language() != "en") {
    const auto english = words::load_words(fs::path(rules.data) / "templates", "en");
    append(out.notes, words::compare(english.words, rules.words));
    rules.words.complete_from(english.words);
  }
  auto layout = sheet::load_layout(fs::path(rules.data) / "templates", rules.configuration.site.paper);
  append(out.faults, std::move(layout.faults));
  if (layout.layout) rules.layout = std::move(*layout.layout);
  if (!rules.configuration.site.time_zone.empty()) rules.site.zone.zone = fhir::find_zone(rules.configuration.site.time_zone);
}

void finish(Rules rules, LoadedRules& out) {
  std::sort(out.faults.begin(), out.faults.end());
  if (out.faults.empty()) out.rules = std::move(rules);
}

/// A production record is written to only under an approved protocol: else everything is computed and kept, nothing sent.
void shadow_without_approval(Rules& rules, LoadedRules& out) {
  auto& record = rules.configuration.record;
  if (!record || record->purpose != "production" || rules.protocol.approved || record->mode == "shadow") return;
  record->mode = "shadow";
  out.notes.push_back({rules.protocol.file, 0, 0, "the protocol carries no approval that covers its values, and the record is a production record: nothing is sent (shadow)",
                       "have the protocol approved; aftersheath check prints what an approval must cover"});
}

/// A signature over the body alone says nothing of when: who records a message can send it again.
void note_lasting_signatures(const Rules& rules, const std::string& configuration_file, LoadedRules& out) {
  const auto& listen = rules.configuration.listen;
  if (listen.signature_secret_file.empty() || listen.signature_header == "webhook-signature" || !listen.tls_client_ca.empty() || !listen.secret_file.empty()) return;
  out.notes.push_back({configuration_file, 0, 0, "listen.signature_header: a signature over the body alone has no time, so a message that somebody recorded can be sent again at any time",
                       "have the sender sign as webhook-signature does (id, time and body), or ask for a client certificate or a secret beside it"});
}

}  // namespace

std::string data_folder(const std::string& given) {
  if (!given.empty()) return given;
  std::error_code failed;
  const fs::path program = fs::read_symlink("/proc/self/exe", failed);
  const fs::path installed = program.parent_path().parent_path() / "share" / "aftersheath";
  if (!failed && fs::is_directory(installed / "profiles", failed)) return installed.string();
  return AFTERSHEATH_SOURCE_DATA;
}

LoadedRules load_rules(const std::string& configuration_file, const std::string& data, const std::string& protocol) {
  LoadedRules out;
  auto configuration = profile::load_configuration(configuration_file, data);
  append(out.faults, std::move(configuration.faults));
  if (!configuration.configuration) return out;
  Rules rules;
  rules.data = data;
  rules.configuration = std::move(*configuration.configuration);
  if (!protocol.empty()) rules.configuration.protocol.file = named_profile(data, "protocol", protocol, "");
  load_parts(rules, out);
  shadow_without_approval(rules, out);
  note_lasting_signatures(rules, configuration_file, out);
  finish(std::move(rules), out);
  return out;
}

LoadedRules load_offline_rules(const OfflineChoice& choice, const std::string& data) {
  LoadedRules out;
  Rules rules;
  rules.data = data;
  rules.installation = rules.record_key = "offline";
  auto& configuration = rules.configuration;
  configuration.protocol.file = named_profile(data, "protocol", choice.protocol, "cautious.toml");
  configuration.site.file = named_profile(data, "site", choice.site, "default.toml");
  configuration.site.language = choice.language.empty() ? "en" : choice.language;
  configuration.site.paper = choice.paper.empty() ? "A4" : choice.paper;
  configuration.limits.tasks_per_patient_hour = 1000;  // nobody's work list is filled
  load_parts(rules, out);
  configuration.site.time_zone = rules.site.time_zone;
  finish(std::move(rules), out);
  return out;
}

void print_faults(const std::vector<Fault>& faults) {
  for (const Fault& fault : faults) {
    std::string place = fault.file;
    if (fault.line > 0) place += fmt::format(":{}:{}", fault.line, fault.column);
    fmt::print(stderr, "{}: {}{}\n", place, fault.text, fault.remedy.empty() ? "" : "; do: " + fault.remedy);
  }
}

}  // namespace app
