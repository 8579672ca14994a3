// A protocol file (profiles/protocol/*.toml) as values. Every fault of the file is named at once; with any, there is no protocol.
//
// The file: [protocol] with id, version, title, status ("draft" or "active"), last-reviewed; [[approval]] with name, role, date, covers;
// and one line for each entry of clinical/settings.def, "table.name" being name in [table]:
//   limit = { value = 150, unit = "s", source = "...", grade = "L", check = "V", date = "2026-11-24" }
// a series of checks has steps = [[count, minutes], ...], unit "min", in place of value; count 0 (last step only) lasts until the watch ends.
// [early-walk], which may be left out, holds early rows and whom they leave out (clinical/early_walk.def), all of them; an exclusion has
// rows = [4, 5, 6, 7] (French, unit "[Ch]") in place of value: the early rows that it rules out.
// [local] holds texts that only the hospital can write (clinical/local_values.h); "" or left out: not set. With inherits = "other.toml" in [protocol]
// (beside this file; at most three files in a row) everything that is not written here is that file's, but no approval: those cover what they cover.
// Numbers are plain decimals of at most six places, without quotes, read digit by digit (1.8 is exactly 1.8). Days are YYYY-MM-DD in quotes,
// none after last-reviewed. grade and check: see clinical::Rule.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "clinical/protocol.h"
#include "tables/fault.h"

namespace profile {

struct LoadedProtocol {
  std::optional<clinical::Protocol> protocol;  ///< absent when there is any fault
  std::vector<tables::Fault> faults;           ///< sorted by place
  std::vector<tables::Fault> notes;            ///< for people: why an approval does not count. The protocol is usable, not approved
  std::string values_sha256;                   ///< what an approval must cover; empty when there is any fault
  std::vector<std::string> approved_by;        ///< "name, role" of each approval that covers the values, in the file's order
  std::string approved_on;                     ///< day of the last of these, YYYY-MM-DD; empty: none
};

LoadedProtocol load_protocol(const std::filesystem::path&);
/// `name` stands in messages and in Protocol::file.
LoadedProtocol load_protocol_text(std::string text, std::string name);

/// One line "key=value unit" for each setting in the order of settings.def ("gate.act.limit=150 s", "watch.swelling=4x15 min"), each ended by a
/// line feed, values as the shortest decimal; the same for the early rows where there are any; then one line local.key=text for each local value that is set. Its SHA-256 is what an approval covers: comments, sources and spacing may change, no value.
std::string canonical_values(const clinical::Protocol&);

}  // namespace profile
