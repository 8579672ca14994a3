// The program's commands and their options; what they do is in commands.h.
#include <CLI/CLI.hpp>

#include "app/commands.h"

namespace {

constexpr const char* kCautions =
    "Aftersheath supports licensed clinicians under local protocol. It never decides: look at the groin.";

void add_serve(CLI::App& program, app::ServeOptions& o) {
  auto* command = program.add_subcommand("serve", "run the daemon");
  command->add_option("--config", o.config, "configuration file (TOML)")->required();
  command->add_option("--clock-from", o.clock_from, "rehearsal: start the plan clock at this instant (RFC 3339)");
  auto* speed = command->add_option("--clock-speed", o.clock_speed, "rehearsal: how fast the plan clock runs; 0 stands still until moved")
                    ->check(CLI::Range(0.0, 100000.0));
  command->add_option("--ports", o.ports_file, "write the addresses that were bound to this file (JSON)");
  command->callback([&o, speed] { o.clock_speed_given = speed->count() > 0; });
}

void add_plan(CLI::App& program, app::PlanOptions& o) {
  auto* command = program.add_subcommand("plan", "compute plan, first transaction and sheets from files, without a daemon");
  command->add_option("--as-of", o.as_of, "the instant the plan is for (RFC 3339)")->required();
  command->add_option("--protocol", o.protocol, "protocol file (default: cautious)");
  command->add_option("--site", o.site, "site file (default: default)");
  command->add_option("--language", o.language, "language of words (default: en)");
  command->add_option("--paper", o.paper, "A4, Letter or A5 (default: A4)")->check(CLI::IsMember({"A4", "Letter", "A5"}));
  command->add_option("--out", o.out, "folder for timeline.json, transaction.json and the sheets")->required();
  command->add_option("files", o.files, "FHIR JSON or NDJSON")->required();
}

template <class Options>
CLI::App* add_configured(CLI::App& program, const char* name, const char* what, Options& o) {
  auto* command = program.add_subcommand(name, what);
  command->add_option("--config", o.config, "configuration file (TOML)")->required();
  return command;
}

void add_check(CLI::App& program, app::CheckOptions& o) {
  auto* command = program.add_subcommand("check", "validate configuration, protocol, site mapping and templates");
  auto* config = command->add_option("--config", o.config, "configuration file (TOML)");
  auto* protocol = command->add_option("--protocol", o.protocol, "a protocol file to judge in place of the configured one; without --config on its own");
  command->add_flag("--connect", o.connect, "also ask the record system who it is, and each printer whether it can print")->needs(config);
  command->callback([config, protocol] {
    if (config->empty() && protocol->empty()) throw CLI::RequiredError("--config or --protocol");
  });
}

void add_probe(CLI::App& program, app::ProbeOptions& o) {
  auto* command = program.add_subcommand("probe", "try what a record really does, for a patient of test data, and take it back; says which rung that leaves and what each costs");
  auto* url = command->add_option("url", o.url, "FHIR base; default: the configured record's");
  auto* config = command->add_option("--config", o.config, "configuration file (TOML): its access to the record and its kind of documents");
  command->add_option("--patient", o.patient, "Patient/id, or system|value of an identifier; must carry the label HTEST (default: record.test_patient)");
  command->add_flag("--json", o.as_json, "the report for programs");
  command->callback([url, config] {
    if (url->empty() && config->empty()) throw CLI::RequiredError("URL or --config");
  });
}

void add_publish(CLI::App& program, app::PublishOptions& o) {
  auto* command = program.add_subcommand("publish", "write a protocol as FHIR definitions: a PlanDefinition with every value and its source, an ActivityDefinition for each step");
  command->add_option("--protocol", o.protocol, "protocol file (default: cautious)");
  command->add_option("--out", o.out, "folder for them")->required();
}

void add_ledger(CLI::App& program, app::LedgerOptions& o) {
  auto* command = add_configured(program, "ledger", "show both ledgers: what came in, what goes out", o);
  command->add_flag("--list", o.list, "each item that is pending or dead");
  command->add_option("--retry-event", o.retry_event, "take a dead event up again (number from --list)");
  command->add_option("--discard-event", o.discard_event, "give a dead event up for good");
  command->add_option("--retry-write", o.retry_write, "try a dead write again");
  command->add_option("--discard-write", o.discard_write, "give a dead write up for good");
  command->add_option("--reason", o.reason, "why; needed with the four above");
}

}  // namespace

int main(int count, char** arguments) {
  CLI::App program{"Aftersheath: aftercare at the femoral access site, from FHIR events to Tasks and a bedside sheet", "aftersheath"};
  program.set_version_flag("--version", AFTERSHEATH_VERSION);
  program.footer(kCautions);
  program.require_subcommand(1);
  std::string data;
  program.add_option("--data", data, "folder that holds profiles/ and templates/");
  program.fallthrough();

  app::ServeOptions serve;
  app::PlanOptions plan;
  app::CheckOptions check;
  app::ExplainOptions explain;
  app::LedgerOptions ledger;
  app::ShadowOptions shadow;
  app::ProbeOptions probe;
  app::BackupOptions backup, restore;
  app::PublishOptions publish;
  add_serve(program, serve);
  add_plan(program, plan);
  add_check(program, check);
  add_configured(program, "explain", "the current plan of a case with its basis, in plain words", explain)
      ->add_option("procedure", explain.procedure, "Procedure/ID")->required();
  add_probe(program, probe);
  add_publish(program, publish);
  add_ledger(program, ledger);
  add_configured(program, "shadow", "what would stand in the record, computed in shadow mode: a FHIR resource a line, to compare with what was done", shadow);
  add_configured(program, "backup", "a complete copy of the store, also while the daemon runs", backup)->add_option("file", backup.file, "TO")->required();
  add_configured(program, "restore", "put a copy in place of an empty store", restore)->add_option("file", restore.file, "FROM")->required();

  try {
    program.parse(count, arguments);
  } catch (const CLI::ParseError& error) {
    const int code = program.exit(error);
    return code == 0 ? 0 : 2;
  }
  serve.data = plan.data = check.data = explain.data = probe.data = publish.data = ledger.data = shadow.data = backup.data = restore.data = data;
  if (program.got_subcommand("serve")) return app::serve(serve);
  if (program.got_subcommand("plan")) return app::plan(plan);
  if (program.got_subcommand("check")) return app::check(check);
  if (program.got_subcommand("explain")) return app::explain(explain);
  if (program.got_subcommand("publish")) return app::publish(publish);
  if (program.got_subcommand("probe")) return app::probe(probe);
  if (program.got_subcommand("ledger")) return app::ledger(ledger);
  if (program.got_subcommand("shadow")) return app::shadow(shadow);
  if (program.got_subcommand("backup")) return app::backup(backup);
  return app::restore(restore);
}
