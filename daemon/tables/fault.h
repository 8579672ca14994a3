// What is wrong in a file that a person wrote, where, and what to do about it.
#pragma once

#include <string>
#include <vector>

namespace tables {

/// Lines and columns count from 1 (columns in characters, not bytes); 0 when the whole file is meant.
struct Fault {
  std::string file;    ///< as the caller named it
  int line = 0;
  int column = 0;
  std::string text;    ///< what is wrong
  std::string remedy;  ///< what to do
  friend auto operator<=>(const Fault&, const Fault&) = default;
};

/// "file:line:column: what; do: remedy", without the parts that are not known.
std::string to_string(const Fault&);

/// By file, then place. Equal faults are kept once.
void sort_faults(std::vector<Fault>&);

}  // namespace tables
