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

store::Millis number_in(std::string_view text) {
  store::Millis value = 0;
  std::from_chars(text.data(), text.data() + text.size(), value);
  return value;
}

std::vector<std::string> parts_of(std::string_view text) {
  std::vector<std::string> parts;
  while (!text.empty()) {
    const auto end = std::min(text.find('\t'), text.size());
    parts.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return parts;
}

/// After the fixed lines: each says by its first word what it is; what has none is an identifier.
void take_line(CaseNotes& notes, const std::string& line) {
  const auto parts = parts_of(line);
  if (line.starts_with("sheet ")) notes.sheet_since = number_in(std::string_view(line).substr(6));
  else if (line.starts_with("known ")) notes.known_since = number_in(std::string_view(line).substr(6));
  else if (parts.size() == 3 && parts[0] == "@side") notes.sides[parts[1]] = parts[2];
  else if (parts.size() == 5 && parts[0] == "@moved") notes.moved.push_back({parts[1], parts[2], parts[3], number_in(parts[4])});
  else if (const auto tab = line.find('\t'); tab != std::string::npos) notes.identifiers.insert({line.substr(0, tab), line.substr(tab + 1)});
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
  while (!text.empty()) take_line(notes, next());
  return notes;
}

std::string text_of(const CaseNotes& notes) {
  std::string text = one_line(notes.identity) + "\n" + one_line(notes.stopped) + "\n" + one_line(notes.foreign) + "\n" + (notes.search ? "search" : "") + "\n";
  if (notes.sheet_since > 0) text += "sheet " + std::to_string(notes.sheet_since) + "\n";
  if (notes.known_since > 0) text += "known " + std::to_string(notes.known_since) + "\n";
  for (const auto& [site, side] : notes.sides) text += "@side\t" + one_line(site) + "\t" + side + "\n";
  for (const auto& one : notes.moved) text += "@moved\t" + one_line(one.site) + "\t" + one.from + "\t" + one.to + "\t" + std::to_string(one.at) + "\n";
  for (const auto& identifier : notes.identifiers) text += one_line(identifier.system) + "\t" + one_line(identifier.value) + "\n";
  return text;
}

std::string procedure_of(const std::string& case_key) {
  const auto begin = case_key.find('|') + 1;
  return case_key.substr(begin, case_key.find('|', begin) - begin);
}

}  // namespace app
