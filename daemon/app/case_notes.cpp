#include "app/case_notes.h"

#include <algorithm>
#include <charconv>

namespace app {
namespace {

std::string one_line(std::string text) {
  std::replace(text.begin(), text.end(), '\n', ' ');
  std::replace(text.begin(), text.end(), '\t', ' ');
  return text;
}

}  // namespace

CaseNotes notes_of(const store::Case& row) {
  CaseNotes notes;
  std::string_view text = row.extra;
  const auto next = [&text] {
    const auto end = std::min(text.find('\n'), text.size());
    std::string line(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
    return line;
  };
  notes.identity = next();
  notes.stopped = next();
  notes.foreign = next();
  notes.search = next() == "search";
  if (text.starts_with("sheet ")) {
    const std::string line = next();
    std::from_chars(line.data() + 6, line.data() + line.size(), notes.sheet_since);
  }
  while (!text.empty()) {
    const std::string line = next();
    const auto tab = line.find('\t');
    if (tab != std::string::npos) notes.identifiers.insert({line.substr(0, tab), line.substr(tab + 1)});
  }
  return notes;
}

std::string text_of(const CaseNotes& notes) {
  std::string text = one_line(notes.identity) + "\n" + one_line(notes.stopped) + "\n" + one_line(notes.foreign) + "\n" + (notes.search ? "search" : "") + "\n";
  if (notes.sheet_since > 0) text += "sheet " + std::to_string(notes.sheet_since) + "\n";
  for (const auto& identifier : notes.identifiers) text += one_line(identifier.system) + "\t" + one_line(identifier.value) + "\n";
  return text;
}

std::string procedure_of(const std::string& case_key) {
  const auto begin = case_key.find('|') + 1;
  return case_key.substr(begin, case_key.find('|', begin) - begin);
}

}  // namespace app
