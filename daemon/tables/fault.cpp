#include "tables/fault.h"

#include <algorithm>

namespace tables {

std::string to_string(const Fault& fault) {
  std::string out = fault.file;
  if (fault.line > 0) {
    out += ':';
    out += std::to_string(fault.line);
    out += ':';
    out += std::to_string(fault.column);
  }
  out += ": ";
  out += fault.text;
  if (!fault.remedy.empty()) {
    out += "; do: ";
    out += fault.remedy;
  }
  return out;
}

void sort_faults(std::vector<Fault>& faults) {
  std::sort(faults.begin(), faults.end());
  faults.erase(std::unique(faults.begin(), faults.end()), faults.end());
}

}  // namespace tables
