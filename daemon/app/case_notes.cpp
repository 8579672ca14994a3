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

template <class E>
std::string of(E value) { return std::to_string(static_cast<int>(value)); }
template <class E>
E enumerator(std::string_view text, E last) { return static_cast<E>(std::clamp<std::int64_t>(number_in(text), 0, static_cast<std::int64_t>(last))); }

/// What the sheets said: see SheetSubject. False: the line is about something else.
bool take_shown(CaseNotes& notes, const std::vector<std::string>& parts) {
  if (parts.size() < 2 || !parts[0].starts_with('@')) return false;
  auto& subject = notes.subject;
  if (parts[0] == "@sheet" && parts.size() == 3) notes.sheet_times[number_in(parts[1])] = number_in(parts[2]);
  else if (parts[0] == "@title") subject.title = parts[1];
  else if (parts[0] == "@operator") subject.operator_name = parts[1];
  else if (parts[0] == "@place") subject.place = parts[1];
  else if (parts[0] == "@started") subject.started = clinical::Instant{clinical::seconds{number_in(parts[1])}};
  else if (parts[0] == "@site" && parts.size() >= 3)
    subject.sites.push_back({enumerator(parts[1], clinical::Side::right), enumerator(parts[2], clinical::Vessel::vein),
                             parts.size() > 3 ? std::optional(static_cast<int>(number_in(parts[3]))) : std::nullopt});
  else return false;
  return true;
}

std::string shown_lines(const CaseNotes& notes) {
  std::string text;
  const auto& subject = notes.subject;
  for (const auto& [sheet, at] : notes.sheet_times) text += "@sheet\t" + std::to_string(sheet) + "\t" + std::to_string(at) + "\n";
  for (const auto& [word, said] : {std::pair{"@title\t", &subject.title}, {"@operator\t", &subject.operator_name}, {"@place\t", &subject.place}})
    if (!said->empty()) text += word + one_line(*said) + "\n";
  if (subject.started) text += "@started\t" + std::to_string(subject.started->time_since_epoch().count()) + "\n";
  for (const auto& site : subject.sites)
    text += "@site\t" + of(site.side) + "\t" + of(site.vessel) + (site.french ? "\t" + std::to_string(*site.french) : "") + "\n";
  return text;
}

/// After the fixed lines: each says by its first word what it is; what has none is an identifier.
void take_line(CaseNotes& notes, const std::string& line) {
  const auto parts = parts_of(line);
  if (parts.size() == 2 && parts[0] == "@waits") notes.sheet_since = number_in(parts[1]);
  else if (parts.size() == 2 && parts[0] == "@known") notes.known_since = number_in(parts[1]);
  else if (parts.size() == 2 && parts[0] == "@ended") notes.ended = number_in(parts[1]);
  else if (parts.size() == 1 && parts[0] == "@removed") notes.removed = true;
  else if (parts.size() == 2 && parts[0] == "@place-in") notes.places.push_back(parts[1]);
  else if (parts.size() == 3 && parts[0] == "@side") notes.sides[parts[1]] = parts[2];
  else if (parts.size() == 3 && parts[0] == "@closer") notes.closer[parts[1]] = number_in(parts[2]);
  else if (parts.size() == 5 && parts[0] == "@moved") notes.moved.push_back({parts[1], parts[2], parts[3], number_in(parts[4])});
  else if (take_shown(notes, parts)) return;
  else if (const auto tab = line.find('\t'); tab != std::string::npos) notes.identifiers.insert({line.substr(0, tab), line.substr(tab + 1)});
}

}  // namespace

SheetSubject subject_of(const clinical::CasePlan& plan) {
  SheetSubject subject{plan.title, plan.operator_name, plan.place, plan.started, {}};
  for (const auto& site : plan.sites) subject.sites.push_back({site.side, site.vessel, site.french});
  return subject;
}

void fill(clinical::CasePlan& plan, const SheetSubject& subject) {
  const auto take = [](std::string& to, const std::string& from) {
    if (to.empty()) to = from;
  };
  take(plan.title, subject.title);
  take(plan.operator_name, subject.operator_name);
  take(plan.place, subject.place);
  if (!plan.started) plan.started = subject.started;
  if (!plan.sites.empty()) return;
  for (const auto& site : subject.sites) {
    const auto n = plan.sites.size();
    auto& shown = plan.sites.emplace_back();
    shown.key = plan.procedure.reference + (n > 0 ? "#" + std::to_string(n + 1) : "");
    shown.side = site.side, shown.vessel = site.vessel, shown.french = site.french;
  }
}

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
  if (notes.sheet_since > 0) text += "@waits\t" + std::to_string(notes.sheet_since) + "\n";
  if (notes.known_since > 0) text += "@known\t" + std::to_string(notes.known_since) + "\n";
  if (notes.ended > 0) text += "@ended\t" + std::to_string(notes.ended) + "\n";
  if (notes.removed) text += "@removed\n";
  for (const auto& [site, side] : notes.sides) text += "@side\t" + one_line(site) + "\t" + side + "\n";
  for (const auto& [site, since] : notes.closer) text += "@closer\t" + one_line(site) + "\t" + std::to_string(since) + "\n";
  for (const auto& one : notes.moved) text += "@moved\t" + one_line(one.site) + "\t" + one.from + "\t" + one.to + "\t" + std::to_string(one.at) + "\n";
  for (const std::string& place : notes.places) text += "@place-in\t" + one_line(place) + "\n";
  text += shown_lines(notes);
  for (const auto& identifier : notes.identifiers) text += one_line(identifier.system) + "\t" + one_line(identifier.value) + "\n";
  return text;
}

std::string procedure_of(const std::string& case_key) {
  const auto begin = case_key.find('|') + 1;
  return case_key.substr(begin, case_key.find('|', begin) - begin);
}

}  // namespace app
