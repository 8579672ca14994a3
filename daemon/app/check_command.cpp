// `check`: what a hospital configured, judged before the daemon runs on it.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <future>

#include "app/ask_daemon.h"
#include "app/commands.h"
#include "app/listening.h"
#include "app/load_rules.h"
#include "app/open_store.h"
#include "app/paper.h"
#include "app/unmapped.h"
#include "fhir_read/server_brief.h"
#include "fhir_read/subscription_brief.h"
#include "json/tree.h"
#include "app/record_access.h"
#include "app/subscription_form.h"
#include "transport/io.h"
#include "words/words.h"

namespace app {
namespace {

/// Languages beside the chosen one must have the same sentences: a missing one fails here, not at the bed.
std::vector<tables::Fault> compare_languages(const Rules& rules) {
  std::vector<tables::Fault> faults;
  const std::filesystem::path templates = std::filesystem::path(rules.data) / "templates";
  const std::string& language = rules.words.language();
  if (language != "en") faults = words::compare(words::load_words(templates, "en").words, words::load_words(templates, language).words);
  return faults;
}

/// Whether the record takes Subscriptions of ours; where it does not, changes are found by asking, which is no fault.
void print_subscriptions(const Rules& rules, const fhir_read::SubscriptionAbility& record) {
  if (const auto why = why_no_subscriptions(rules.configuration); !why.empty()) return fmt::print("push:     no Subscriptions of our own: {}\n", why);
  const auto choice = choose_subscriptions(rules.configuration, record);
  if (choice.form == "none") return fmt::print("push:     no Subscriptions of our own: {}; changes are found by asking, every {} s\n", choice.why_none, rules.configuration.record->look_seconds);
  fmt::print("push:     {} Subscriptions of form {}, called at {}/hook/{}/\n", choice.subjects.size(), choice.form, rules.configuration.subscriptions.endpoint, rules.configuration.record->source);
  if (!record.may_create) fmt::print("          the record's CapabilityStatement does not say that Subscriptions may be created; it is tried all the same\n");
  for (const auto& topic : choice.unknown_topics) fmt::print("          the record does not name the topic {}\n", topic);
}

constexpr std::size_t kShown = 40;

/// Codes that mean nothing here, of what has come so far: from the daemon while it runs, else from its store. Nothing is printed where there is none yet.
void print_unmapped(Rules& rules) {
  std::vector<std::pair<std::string, std::int64_t>> list;
  if (const auto answer = ask_daemon(rules, "GET", "/status"); answer && answer->status == 200) {
    const auto status = json::parse(answer->body);
    if (status.has_error()) return;
    for (const auto& one : (*status)["unmapped"].items()) list.emplace_back(one["what"].text(), one["count"].integer().value_or(0));
  } else {
    const auto opened = open_store_to_read(rules);
    if (opened.has_error()) return;
    const auto held = unmapped_held(**opened, rules);
    if (held.has_error()) return fmt::print(stderr, "codes:    the store cannot be read for what is not mapped: {}\n", held.error().text);
    list = held->by_count();
  }
  if (list.empty()) return;
  fmt::print("          seen and not understood, for the site's map (local_code, concept_maps):\n");
  for (std::size_t i = 0; i < list.size() && i < kShown; ++i) fmt::print("          {:>6} x {}\n", list[i].second, list[i].first);
  if (list.size() > kShown) fmt::print("          and {} more: see unmapped in /status\n", list.size() - kShown);
}

/// Asks the record who it is. Prints what it says; false when it cannot be reached or is no FHIR server.
bool ask_record(const Rules& rules) {
  const auto& record = rules.configuration.record;
  if (!record) {
    fmt::print("record: none configured, nothing to connect to\n");
    return true;
  }
  transport::Io io;
  transport::IoTimers timers(io);
  const auto access = RecordAccess::open(io, timers, rules);
  if (access.has_error()) {
    fmt::print(stderr, "{}\n", access.error().text);
    return false;
  }
  io.start();
  std::promise<transport::Outcome> answered;
  transport::OutgoingRequest request;
  request.url = record->base_url + "/metadata";
  request.headers.add("Accept", "application/fhir+json");
  (*access)->network().send(std::move(request), [&answered](transport::Outcome outcome) { answered.set_value(std::move(outcome)); });
  const transport::Outcome outcome = answered.get_future().get();
  const auto* response = std::get_if<transport::Response>(&outcome);
  if (!response) {
    fmt::print(stderr, "record: {}\n", std::get<transport::Failure>(outcome).text);
    return false;
  }
  const auto body = json::parse(response->body);
  const auto brief = body.has_value() ? fhir_read::server_brief(*body) : std::nullopt;
  if (response->status != 200 || !brief) {
    fmt::print(stderr, "record: {}/metadata answered {} and no CapabilityStatement\n", record->base_url, response->status);
    return false;
  }
  // What anybody may read proves nothing: one search a type that is needed.
  bool allowed = true;
  for (const char* type : {"Patient", "Procedure", "Observation", "MedicationAdministration", "Task", "CarePlan"}) {
    std::promise<transport::Outcome> told;
    transport::OutgoingRequest search;
    search.url = record->base_url + "/" + type + "?_count=1";
    search.headers.add("Accept", "application/fhir+json");
    (*access)->network().send(std::move(search), [&told](transport::Outcome got) { told.set_value(std::move(got)); });
    const transport::Outcome got = told.get_future().get();
    const auto* read = std::get_if<transport::Response>(&got);
    if (read && read->status != 401 && read->status != 403) continue;
    allowed = false;
    fmt::print(stderr, "access: {} cannot be searched: {}\n", type, read ? fmt::format("the record answered {}", read->status) : std::get<transport::Failure>(got).text);
  }
  const auto state = (*access)->state();
  fmt::print("access: {}{}{}\n", state.kind, state.valid_seconds >= 0 ? fmt::format(", token for {} s", state.valid_seconds) : "", state.trouble.empty() ? "" : "; " + state.trouble);
  if (!state.not_granted.empty()) {
    fmt::print(stderr, "access: asked for and not granted: {}\n", fmt::join(state.not_granted, " "));
    return false;
  }
  if (!allowed) return false;
  print_subscriptions(rules, fhir_read::subscription_ability(*body));
  fmt::print("record: {} says it is {} with FHIR {}\n", record->base_url, brief->software.empty() ? "a server without a name" : brief->software, brief->fhir_version);
  return true;
}

std::vector<std::pair<std::string, std::string>> printers_of(const profile::Configuration::Print& print) {
  std::vector<std::pair<std::string, std::string>> all;  // address, name
  const auto add = [&](const profile::Configuration::Queue& queue) {
    for (const auto& [uri, name] : {std::pair{queue.uri, queue.name}, std::pair{queue.second_uri, queue.second_name}})
      if (!uri.empty() && std::ranges::none_of(all, [&](const auto& one) { return one.first == uri; })) all.emplace_back(uri, name);
  };
  add(print.facility);
  for (const auto& unit : print.units) add(unit.queue);
  return all;
}

void print_printers(const Rules& rules) {
  const auto& print = rules.configuration.print;
  if (!print) return fmt::print("printing: none configured\n");
  for (const auto& [uri, name] : printers_of(*print)) fmt::print("printing: {} at {}\n", name, uri);
}

/// Asks each printer for its state. False when one cannot print a sheet now.
bool ask_printers(const Rules& rules) {
  bool all_well = true;
  if (!rules.configuration.print) return true;
  const auto& print = *rules.configuration.print;
  const std::chrono::seconds answer{print.answer_seconds};
  for (const auto& [uri, name] : printers_of(print)) {
    const auto state = print::ask(uri, {std::min<std::chrono::milliseconds>(answer, std::chrono::seconds{5}), answer});
    const auto trouble = state.has_error() ? state.error().trouble : print::before_sending(*state, print::media_named(rules.configuration.site.paper));
    if (trouble == print::Trouble::none) {
      fmt::print("printing: {} can print {}\n", name, rules.configuration.site.paper);
      continue;
    }
    all_well = false;
    fmt::print(stderr, "printing: {}: {}{}\n", name, rules.words.term(fmt::format("printer.{}", word_of(trouble))), state.has_error() ? " (" + state.error().text + ")" : "");
  }
  return all_well;
}

/// "gate.act.limit, rest.artery.shortest": the settings whose check mark is one of these.
std::string settings_marked(const clinical::Protocol& protocol, std::initializer_list<std::string_view> marks, int& count) {
  std::vector<std::string> keys;
  const auto note = [&](const clinical::Rule& rule) {
    if (std::find(marks.begin(), marks.end(), rule.check) != marks.end()) keys.push_back(rule.key);
  };
  const auto one_of = [&](const auto& one, auto...) { note(one.rule); };
  clinical::each_setting(protocol, one_of, one_of);
  clinical::each_optional(protocol, [&](const auto& setting, auto...) {
    if (setting) note(setting->rule);
  });
  if (protocol.early_walk) clinical::each_early(*protocol.early_walk, one_of, one_of);
  count = static_cast<int>(keys.size());
  return fmt::format("{}", fmt::join(keys, ", "));
}

/// What a local team has still to do before it can sign.
void print_what_is_open(const clinical::Protocol& protocol) {
  std::vector<std::string> unset;
  for (const auto& [key, text] : protocol.local)
    if (text.empty()) unset.push_back(key);
  clinical::each_optional(protocol, [&](const auto& setting, const char* key, auto) {
    if (!setting) unset.emplace_back(key);
  });
  if (!unset.empty()) fmt::print("          not set, for the local team: {}\n", fmt::join(unset, ", "));
  int count = 0;
  std::string keys = settings_marked(protocol, {"M"}, count);
  fmt::print("          from memory, unverified: {}{}{}\n", count, count ? ": " : "", keys);
  keys = settings_marked(protocol, {"Vs"}, count);
  fmt::print("          seen in a secondary copy only: {}{}{}\n", count, count ? ": " : "", keys);
  settings_marked(protocol, {"OWN"}, count);
  fmt::print("          chosen by this protocol, no source: {}\n", count);
  settings_marked(protocol, {"CP"}, count);
  fmt::print("          common practice, no source: {}\n", count);
}

}  // namespace

int check(const CheckOptions& options) {
  const std::string data = data_folder(options.data);
  auto loaded = options.config.empty() ? load_offline_rules({options.protocol, {}, {}, {}}, data) : load_rules(options.config, data, options.protocol);
  if (loaded.rules) {
    auto more = compare_languages(*loaded.rules);
    loaded.faults.insert(loaded.faults.end(), more.begin(), more.end());
  }
  print_faults(loaded.faults);
  print_faults(loaded.notes);
  if (!loaded.faults.empty()) {
    fmt::print(stderr, "{} faults: the daemon will not start with these\n", loaded.faults.size());
    return 2;
  }
  Rules& rules = *loaded.rules;
  if (!options.config.empty())
    if (const auto troubles = trouble_with_files(rules.configuration); !troubles.empty()) {
      for (const std::string& one : troubles) fmt::print(stderr, "{}\n", one);
      return 2;
    }
  fmt::print("protocol: {} {}, {}; sha256 of the file {}\n", rules.protocol.id, rules.protocol.version, rules.protocol.approved ? "approved" : "NOT APPROVED",
             rules.protocol.sha256);
  fmt::print("          approvals of two people in two roles must cover {}\n", loaded.values_sha256);
  print_what_is_open(rules.protocol);
  fmt::print("site:     {}, times in {}, language {}, paper {}\n", rules.configuration.site.file.string(), rules.configuration.site.time_zone,
             rules.words.language(), rules.configuration.site.paper);
  fmt::print("codes:    {} drug codes, {} procedure codes, {} measurement codes, {} of the site\n", rules.terminology.drugs.codes.size(), rules.terminology.catheters.codes.size(),
             rules.terminology.measurements.codes.size(), rules.site.local_codes.size());
  if (!options.config.empty()) print_unmapped(rules);
  print_printers(rules);
  if (options.connect && !ask_record(rules)) return 1;
  if (options.connect && !ask_printers(rules)) return 1;
  fmt::print("no fault found\n");
  return 0;
}

}  // namespace app
