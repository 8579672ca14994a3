// What could not be read or believed, told beside the facts. Reading never stops at an issue.
#pragma once

#include <string>
#include <vector>

namespace fhir {

enum class Severity { error, warning, information };

// `code` is a short stable word ("no-unit", "entered-in-error"); `at` a resource and element path ("Observation/o1.valueQuantity");
// `text` one English sentence for people, with the value as written.
struct Issue {
  Severity severity = Severity::warning;
  std::string code;
  std::string at;
  std::string text;
  friend auto operator<=>(const Issue&, const Issue&) = default;
};

using Issues = std::vector<Issue>;

inline const char* word(Severity severity) {
  switch (severity) {
    case Severity::error: return "error";
    case Severity::warning: return "warning";
    case Severity::information: return "information";
  }
  return "";
}

}  // namespace fhir
