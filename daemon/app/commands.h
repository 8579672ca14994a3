// The commands of the program. Each returns the exit code: 0 success, 2 unusable input or configuration, 1 failure, plan: 3 where a case misses a fact.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace app {

struct ServeOptions {
  std::string config, data;
  std::string clock_from;         ///< RFC 3339; empty: the machine's clock
  double clock_speed = 1;
  bool clock_speed_given = false;
  std::string ports_file;         ///< where to write the addresses really bound; empty: nowhere
};
int serve(const ServeOptions&);

struct PlanOptions {
  std::string as_of, protocol, site, language, paper, out, data;
  std::vector<std::string> files;
};
int plan(const PlanOptions&);

struct CheckOptions {
  std::string config, data;
  std::string protocol;           ///< judged in place of the configured one; empty: the configured one
  bool connect = false;
};
int check(const CheckOptions&);

struct ProbeOptions {
  std::string url;                ///< empty: the configured record's
  std::string config, data;       ///< config empty: no access, our own kind of documents
  std::string patient;            ///< "Patient/x" or system|value; empty: record.test_patient
  bool as_json = false;
};
int probe(const ProbeOptions&);

struct PublishOptions {
  std::string protocol;           ///< empty: cautious
  std::string out, data;
};
/// Writes PlanDefinition and ActivityDefinitions of a protocol into the folder.
int publish(const PublishOptions&);

struct ExplainOptions {
  std::string config, data, procedure;
};
int explain(const ExplainOptions&);

struct LedgerOptions {
  std::string config, data;
  bool list = false;
  std::optional<long> retry_event, discard_event, retry_write, discard_write;
  std::string reason;
};
int ledger(const LedgerOptions&);

struct ShadowOptions {
  std::string config, data;
};
/// What would stand in the record, a resource a line.
int shadow(const ShadowOptions&);

struct BackupOptions {
  std::string config, data, file;
};
int backup(const BackupOptions&);
int restore(const BackupOptions&);

}  // namespace app
