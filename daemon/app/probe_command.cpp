// `probe`: what a record really does with our kind of writing, and which rung that leaves.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <chrono>
#include <fstream>
#include <future>

#include "app/commands.h"
#include "app/load_rules.h"
#include "app/plan_clock.h"
#include "app/probe.h"
#include "app/probe_beside.h"
#include "app/record_access.h"
#include "fhir/date_time.h"
#include "json/tree.h"
#include "transport/http_client.h"
#include "transport/io.h"

namespace app {
namespace {

using json::Value;

std::string now_text() { return fhir::format_utc(std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now())); }

/// Not to be met by another run.
std::string unique_text() { return fmt::format("probe-{:016x}", system_random()->next()); }

Probe::Ask blocking(transport::Network& network) {
  return [&network](transport::OutgoingRequest request) {
    auto answered = std::make_shared<std::promise<transport::Outcome>>();
    network.send(std::move(request), [answered](transport::Outcome outcome) { answered->set_value(std::move(outcome)); });
    return answered->get_future().get();
  };
}

Value json_of(const ProbeReport& report, const std::vector<std::string>& not_granted) {
  Value findings = Value::object(), settings = Value::object(), losses = Value::object(), left = Value::array(), scopes = Value::array();
  for (const auto& one : report.findings) findings.set(one.what, Value::object({{"found", one.found}, {"detail", one.detail.empty() ? Value() : Value(one.detail)}}));
  for (const auto& [key, value] : report.settings) settings.set(key, value);
  for (const char* rung : {"transactions", "single-writes", "documents", "none"}) {
    Value list = Value::array();
    for (const auto& one : losses_of(rung)) list.push(one);
    losses.set(rung, std::move(list));
  }
  Value part = Value::array();
  for (const auto& one : losses_of_part(report.serve)) part.push(one);
  if (report.clashes_here()) part.push(clashes_are_here());
  for (const auto& one : report.left) left.push(one);
  for (const auto& one : not_granted) scopes.push(one);
  return Value::object({{"at", now_text()}, {"software", report.software}, {"fhirVersion", report.fhir_version}, {"refused", report.refused.empty() ? Value() : Value(report.refused)},
                        {"rung", report.rung}, {"serve", report.serve.empty() ? Value() : Value(report.serve)}, {"serveLosses", std::move(part)}, {"settings", std::move(settings)}, {"losses", std::move(losses)}, {"findings", std::move(findings)}, {"left", std::move(left)},
                        {"scopesNotGranted", std::move(scopes)}});
}

void print(const ProbeReport& report, const std::vector<std::string>& not_granted) {
  fmt::print("record: {} with FHIR {}\n", report.software.empty() ? "a server without a name" : report.software, report.fhir_version);
  for (const auto& one : report.findings) fmt::print("  {:<24} {}{}\n", one.what, one.found, one.detail.empty() ? "" : "; " + one.detail);
  if (!not_granted.empty()) fmt::print("  scopes asked for and not granted: {}\n", fmt::join(not_granted, " "));
  for (const auto& one : report.left) fmt::print("left behind: {}\n", one);
  fmt::print("rung: {}\n", report.rung);
  if (report.clashes_here()) fmt::print("  {}\n", clashes_are_here());
  if (!report.serve.empty()) fmt::print("  {} are served here: {}\n", report.serve, fmt::join(losses_of_part(report.serve), "; "));
  for (const char* rung : {"transactions", "single-writes", "documents", "none"}) {
    const auto losses = losses_of(rung);
    fmt::print("  {} {}: {}\n", report.rung == rung ? "*" : " ", rung, losses.empty() ? "nothing is lost" : fmt::format("{}", fmt::join(losses, "; ")));
  }
  if (report.settings.empty()) return;
  fmt::print("to configure:\n");
  std::string table;
  for (const auto& [key, value] : report.settings) {
    const auto dot = key.find('.');
    if (key.substr(0, dot) != table) fmt::print("  [{}]\n", table = key.substr(0, dot));
    fmt::print("  {} = \"{}\"\n", key.substr(dot + 1), value);
  }
}

/// What the configuration says and the record does not bear; empty: nothing.
std::string clash(const profile::Configuration& configuration, const ProbeReport& report) {
  if (!configuration.record || configuration.record->writing == "auto" || report.rung == configuration.record->writing) return "";
  static const std::vector<std::string> order{"transactions", "single-writes", "documents", "none"};
  const auto place = [&](const std::string& rung) { return std::ranges::find(order, rung) - order.begin(); };
  return place(configuration.record->writing) < place(report.rung) ? fmt::format("record.writing is {}, and this record bears {} at most", configuration.record->writing, report.rung) : "";
}

int ended(const ProbeReport& report, const ProbeOptions& options, const std::vector<std::string>& not_granted, const profile::Configuration& configuration) {
  if (!report.refused.empty()) {
    fmt::print(stderr, "probe: {}\n", report.refused);
    return report.reached ? 2 : 1;
  }
  if (options.as_json) fmt::print("{}\n", json::write_pretty(json_of(report, not_granted)));
  else print(report, not_granted);
  if (report.rung == "none") return fmt::print(stderr, "probe: nothing can be written to this record\n"), 1;
  if (const auto wrong = clash(configuration, report); !wrong.empty()) return fmt::print(stderr, "probe: {}\n", wrong), 1;
  return 0;
}

/// With a configuration: its record, its access, its documents. Kept beside the store, so that /status can show it.
int probe_configured(const ProbeOptions& options) {
  auto loaded = load_rules(options.config, data_folder(options.data));
  print_faults(loaded.faults);
  if (!loaded.rules) return 2;
  const Rules& rules = *loaded.rules;
  const auto& record = rules.configuration.record;
  const std::string patient = !options.patient.empty() ? options.patient : record ? record->test_patient : "";
  if (!record) return fmt::print(stderr, "probe: no record is configured\n"), 2;
  if (patient.empty()) return fmt::print(stderr, "probe: record.test_patient, or --patient, names nobody: a patient that carries the label HTEST is needed\n"), 2;
  transport::Io io;
  transport::IoTimers timers(io);
  const auto access = RecordAccess::open(io, timers, rules);
  if (access.has_error()) return fmt::print(stderr, "{}\n", access.error().text), 2;
  io.start();
  const auto report = Probe(blocking((*access)->network()), options.url.empty() ? record->base_url : options.url, rules.configuration.documents, patient, unique_text(), now_text()).run();
  const auto not_granted = (*access)->state().not_granted;
  if (report.refused.empty() && !rules.configuration.store.path.empty())
    if (const auto wrong = keep_probe(rules.configuration.store.path, json_of(report, not_granted)); !wrong.empty()) fmt::print(stderr, "probe: {}; /status will not show this\n", wrong);
  return ended(report, options, not_granted, rules.configuration);
}

}  // namespace

int probe(const ProbeOptions& options) {
  if (!options.config.empty()) return probe_configured(options);
  if (options.patient.empty()) return fmt::print(stderr, "probe: --patient is needed: a patient of that record that carries the label HTEST\n"), 2;
  transport::Io io;
  transport::HttpClient client(io, {});
  io.start();
  std::string url = options.url;
  while (url.ends_with('/')) url.pop_back();
  const profile::Configuration configuration{};
  const auto report = Probe(blocking(client), url, configuration.documents, options.patient, unique_text(), now_text()).run();
  return ended(report, options, {}, configuration);
}

}  // namespace app
