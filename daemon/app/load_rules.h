#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/rules.h"
#include "tables/fault.h"

namespace app {

struct LoadedRules {
  std::optional<Rules> rules;             ///< absent when there is any fault
  std::vector<tables::Fault> faults;
  std::vector<tables::Fault> notes;       ///< for people; nothing is stopped by them
  std::string values_sha256;              ///< what an approval of the protocol must cover
};

/// Where profiles/ and templates/ are: `given` (--data), else beside the installed program (../share/aftersheath), else the source tree.
std::string data_folder(const std::string& given);

/// Everything a configuration file names. `protocol`, where it is given, stands in place of the configured one: a file, or a name in profiles/protocol.
LoadedRules load_rules(const std::string& configuration_file, const std::string& data, const std::string& protocol = {});

/// For `plan` and `check`: no configuration file; empty names take the defaults.
struct OfflineChoice {
  std::string protocol, site, language, paper;
};
LoadedRules load_offline_rules(const OfflineChoice&, const std::string& data);

/// To standard error, one fault a line: "file:line:column: what; do: remedy".
void print_faults(const std::vector<tables::Fault>&);

}  // namespace app
