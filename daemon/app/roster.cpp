#include "app/roster.h"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <utility>

#include "fhir/date_time.h"
#include "fhir/reference.h"
#include "fhir_read/roster.h"
#include "json/tree.h"

namespace app {
namespace {

constexpr int kForget = 60;  // rounds

std::string trimmed(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r");
  return first == std::string::npos ? "" : text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

/// A token "system|value" as a search parameter: FHIR's own escapes in the value, then those of the address.
std::string percent(const std::string& token) {
  std::string text, out;
  const auto bar = token.find('|');
  for (std::size_t at = 0; at < token.size(); ++at) {
    if (at > bar && std::string_view("\\,$|").find(token[at]) != std::string_view::npos) text += '\\';
    text += token[at];
  }
  for (const unsigned char c : text)
    if (std::isalnum(c) || c == '-' || c == '.' || c == '_' || c == '~') out += static_cast<char>(c);
    else out += fmt::format("%{:02X}", c);
  return out;
}

constexpr std::chrono::seconds kFileAnswers{10};
constexpr std::streamsize kFileLimit = 16 << 20;  // bytes: some hundred thousand patients

struct FileText {
  std::string text, fault;
};
FileText text_of(const std::filesystem::path& path) {
  std::error_code unseen;
  if (!std::filesystem::is_regular_file(path, unseen)) return {"", unseen ? "the file cannot be opened" : "it is no file"};
  std::ifstream file(path, std::ios::binary);
  if (!file) return {"", "the file cannot be opened"};
  std::string text(static_cast<std::size_t>(kFileLimit) + 1, '\0');
  file.read(text.data(), kFileLimit + 1);
  if (file.bad()) return {"", "the file cannot be read to its end"};
  if (file.gcount() > kFileLimit) return {"", "the file is too large"};
  text.resize(static_cast<std::size_t>(file.gcount()));
  return {std::move(text), ""};
}

struct ByIdentifier {
  std::string type, system, value;
};
/// "Group?identifier=system|value"; none: it is known by its id.
std::optional<ByIdentifier> by_identifier(const std::string& list) {
  constexpr std::string_view key = "?identifier=";
  const auto at = list.find(key);
  const auto bar = list.find('|', at);
  if (at == std::string::npos || bar == std::string::npos) return {};
  return ByIdentifier{list.substr(0, at), list.substr(at + key.size(), bar - at - key.size()), list.substr(bar + 1)};
}

std::string day(Millis at, int shift) {
  return fhir::format_utc(fhir::Instant{std::chrono::seconds{at / 1000} + std::chrono::days{shift}}).substr(0, 10);
}

}  // namespace

std::vector<std::string> parts_of_list(const std::string& text) {
  std::vector<std::string> parts;
  for (std::size_t at = 0; at <= text.size();) {
    const auto end = std::min(text.find(';', at), text.size());
    if (auto part = trimmed(text.substr(at, end - at)); !part.empty()) parts.push_back(std::move(part));
    at = end + 1;
  }
  return parts;
}

struct Roster::Round {
  std::vector<Source> sources;
  std::size_t at = 0;
  bool whole = true;
  std::function<void(const std::set<std::string>&, bool)> done;
  const Source& source() const { return sources[at]; }
};

Roster::Roster(RosterParts parts) : parts_(std::move(parts)), threads_(parts_.executor) {}
Roster::~Roster() { parts_.timers.cancel(timer_); }

std::string Roster::base_url() const { return parts_.rules.configuration.record->base_url; }
bool Roster::rebase() const { return parts_.rules.configuration.record->next_page == "rebase"; }
bool Roster::configured() const { return !sources().empty(); }
bool Roster::is_source(const std::string& reference, const std::string& body) const {
  for (const std::string& one : parts_of_list(parts_.rules.configuration.roster.lists)) {
    if (one == reference) return true;
    const auto known = by_identifier(one);
    if (!known || known->type != reference.substr(0, reference.find('/'))) continue;
    const auto resource = json::parse(body);
    if (resource.has_value() && fhir_read::has_identifier(*resource, known->system, known->value)) return true;
  }
  return false;
}

std::vector<Roster::Source> Roster::sources() const {
  const auto& roster = parts_.rules.configuration.roster;
  std::vector<Source> all;
  for (const std::string& list : parts_of_list(roster.lists)) {
    const auto known = by_identifier(list);
    all.push_back({list, {known ? known->type + "?identifier=" + percent(known->system + "|" + known->value) : list}, true});
  }
  for (const std::string& place : parts_of_list(roster.locations)) {
    const std::string path = "Encounter?location=" + place + "&_count=100";
    all.push_back({"Encounters at " + place, {path + "&status=arrived,triaged,in-progress,onleave", path}, false});
  }
  // A day to both sides: zones of date searches differ, and yesterday's patient may still lie with a sheath in.
  const std::string days = fmt::format("&date=ge{}&date=le{}&_count=100", day(parts_.clock.now(), -1), day(parts_.clock.now(), 1));
  for (const std::string& place : parts_of_list(roster.appointments))
    all.push_back({"Appointments at " + place, {"Appointment?actor=" + place + days, "Appointment?location=" + place + days}, false});
  if (!roster.file.empty()) all.push_back({"file " + roster.file.string(), {}, false});
  return all;
}

void Roster::read(std::function<void(const std::set<std::string>&, bool)> done) {
  auto round = std::make_shared<Round>();
  round->sources = sources();
  round->done = std::move(done);
  next(std::move(round));
}

void Roster::next(std::shared_ptr<Round> round) {
  if (round->at < round->sources.size()) return round->source().paths.empty() ? read_file(std::move(round)) : ask(std::move(round), 0);
  std::set<std::string> all;
  for (const auto& [source, names] : known_) all.insert(names.begin(), names.end());
  round->done(all, round->whole);
}

void Roster::ask(std::shared_ptr<Round> round, std::size_t path) {
  RecordSearch what{{round->source().paths[path]}, base_url(), false, rebase()};
  search(parts_.get, std::move(what), [this, round, path, alive = std::weak_ptr<int>(alive_)](SearchResult result) {
    if (!alive.lock()) return;
    if (!result.refused.empty() && path + 1 < round->source().paths.size()) return ask(round, path + 1);
    took(round, result);
  });
}

void Roster::took(std::shared_ptr<Round> round, const SearchResult& result) {
  const bool list = round->source().list;
  if (!result.refused.empty() && list && sent_to_us(round)) return;
  if (!result.refused.empty()) return failed(round, fmt::format("the record answers {}", result.refused.front().second));
  if (!result.whole || (list && result.found.empty())) {
    if (list && sent_to_us(round)) return;
    return failed(round, result.whole ? "the record does not know it, and nobody has sent it" : result.trouble);
  }
  if (!result.withheld.empty()) return failed(round, "the record does not show it to us (403)");
  if (std::ranges::any_of(result.found, [](const Found& found) { return found.event.method == "DELETE"; })) {
    if (!sent_to_us(round)) failed(round, "the record has deleted it");
    return;
  }
  std::set<std::string> names;
  std::size_t nobody = 0;
  for (const Found& found : result.found) {
    const auto body = json::parse(found.event.body);
    if (body.has_error()) continue;
    names.merge(fhir_read::patients_on_roster(*body, base_url()));
    nobody += fhir_read::nobody_on_roster(*body, base_url());
  }
  says_nobody(round->source().name, nobody);
  // A list that has just lost all its entries may be about to be filled anew: it is given a round.
  const std::string& name = round->source().name;
  if (names.empty() && !known_[name].empty() && emptied_.insert(name).second) return failed(round, "it names nobody any more");
  emptied_.erase(name);
  named(round, std::move(names));
}

/// A Group or List that the record does not hold may be one that an interface of the site sends here.
bool Roster::sent_to_us(std::shared_ptr<Round> round) {
  const std::string& name = round->source().name;
  if (const auto known = by_identifier(name)) return sent_with_identifier(std::move(round), known->type, known->system, known->value);
  const auto slash = name.find('/');
  const auto held = parts_.store.current("", name.substr(0, slash), name.substr(slash + 1));
  if (held.has_error() || !*held || (*held)->deleted) return false;
  const auto body = json::parse((*held)->body);
  if (body.has_error()) return false;
  says_nobody(name, fhir_read::nobody_on_roster(*body, base_url()));
  named(round, fhir_read::patients_on_roster(*body, base_url()));
  return true;
}

void Roster::says_nobody(const std::string& source, std::size_t entries) {
  if (entries == 0) return parts_.alarms.calm("roster nobody " + source);
  parts_.alarms.raise("roster nobody " + source, fmt::format("{} entries of {} name no Patient by reference: whoever is meant is not looked for", entries, source));
}

/// Posted each time anew, it has another id each time: the one that came last counts.
bool Roster::sent_with_identifier(std::shared_ptr<Round> round, const std::string& type, const std::string& system, const std::string& value) {
  store::EventId last = 0;
  std::set<std::string> names;
  for (std::string after;;) {
    const auto some = parts_.store.current_of_type("", type, 100, after);
    if (some.has_error()) return false;
    for (const auto& fact : *some) {
      const auto body = json::parse(fact.body);
      if (fact.event_id <= last || body.has_error() || !fhir_read::has_identifier(*body, system, value)) continue;
      last = fact.event_id;
      names = fhir_read::patients_on_roster(*body, base_url());
    }
    if (some->size() < 100) break;
    after = some->back().id;
  }
  if (last == 0) return false;
  named(std::move(round), std::move(names));
  return true;
}

/// On a thread of its own, for a share may hang: then the round goes on without it, and no second read is begun.
void Roster::read_file(std::shared_ptr<Round> round) {
  parts_.alarms.calm("roster identifier");
  if (++reads_ % kForget == 0) patient_of_.clear();  // patients are merged
  const auto path = parts_.rules.configuration.roster.file;
  if (file_hangs_) return failed(std::move(round), "reading the file has not come to its end");
  file_hangs_ = true;
  const auto over = std::make_shared<bool>(false);
  const auto alive = std::weak_ptr<int>(alive_);
  timer_ = parts_.timers.after(kFileAnswers, [this, round, over, alive] {
    if (!alive.lock()) return;
    parts_.executor.post([this, round, over, alive] {
      if (alive.lock() && !std::exchange(*over, true)) failed(round, fmt::format("the file has not been read within {} s", kFileAnswers.count()));
    });
  });
  threads_.run(path.string(), [this, path, round, over, alive] {
    FileText text = text_of(path);
    return std::function<void()>([this, round, over, alive, text = std::move(text)] {
      if (!alive.lock()) return;
      file_hangs_ = false;
      parts_.timers.cancel(timer_);
      if (std::exchange(*over, true)) return;
      text.fault.empty() ? take_file(round, text.text) : failed(round, text.fault);
    });
  });
}

void Roster::take_file(std::shared_ptr<Round> round, const std::string& text) {
  std::istringstream file(text);
  std::set<std::string> names;
  std::vector<std::string> identifiers;
  int number = 0;
  for (std::string line; std::getline(file, line);) {
    if (++number == 1 && line.starts_with("\xEF\xBB\xBF")) line.erase(0, 3);
    if (file.eof()) return failed(round, "its last line has no end: it is being written, or was cut");
    const std::string entry = trimmed(line);
    if (entry.empty() || entry.front() == '#') continue;
    if (entry.find('|') != std::string::npos) identifiers.push_back(entry);
    else if (entry.starts_with("Patient/") && fhir::is_id(entry.substr(8))) names.insert(entry);
    else return failed(round, fmt::format("line {} is neither Patient/id nor system|value", number));
  }
  // An interface that has just emptied it to fill it anew is given a round.
  const std::string& source = round->source().name;
  if (names.empty() && identifiers.empty() && !known_[source].empty() && emptied_.insert(source).second) return failed(round, "it names nobody any more");
  emptied_.erase(source);
  resolve(round, std::move(identifiers), std::move(names));
}

/// Each identifier is asked for once; it must be one patient's.
void Roster::resolve(std::shared_ptr<Round> round, std::vector<std::string> identifiers, std::set<std::string> names) {
  while (!identifiers.empty() && patient_of_.contains(identifiers.back())) {
    names.insert(patient_of_[identifiers.back()]);
    identifiers.pop_back();
  }
  if (identifiers.empty()) return named(round, std::move(names));
  RecordSearch what{{"Patient?identifier=" + percent(identifiers.back())}, base_url(), false, rebase()};
  search(parts_.get, std::move(what), [this, round, identifiers, names, alive = std::weak_ptr<int>(alive_)](SearchResult result) mutable {
    if (!alive.lock()) return;
    if (!result.whole) return failed(round, "the record could not be asked whose an identifier is");
    std::set<std::string> found;
    for (const Found& one : result.found)
      if (one.event.resource_type == "Patient") found.insert("Patient/" + one.event.resource_id);
    if (found.size() == 1) {
      patient_of_[identifiers.back()] = *found.begin();
      return resolve(round, std::move(identifiers), std::move(names));
    }
    // The others of the file are looked after even so.
    round->whole = false;
    parts_.alarms.raise("roster identifier", result.refused.empty() && result.withheld.empty() ? fmt::format("the roster names an identifier that {} of the record's patients have: that patient is not looked for", found.size())
                                                                                             : std::string("the roster names an identifier that the record does not let us search for: that patient is not looked for"));
    identifiers.pop_back();
    resolve(round, std::move(identifiers), std::move(names));
  });
}

void Roster::named(std::shared_ptr<Round> round, std::set<std::string> names) {
  parts_.alarms.calm("roster " + round->source().name);
  known_[round->source().name] = std::move(names);
  ++round->at;
  next(std::move(round));
}

void Roster::failed(std::shared_ptr<Round> round, const std::string& why) {
  const std::string& name = round->source().name;
  parts_.alarms.raise("roster " + name, fmt::format("the roster cannot be read from {}: {}; the {} patients it last named are looked at, new ones are not", name, why, known_[name].size()));
  round->whole = false;
  ++round->at;
  next(std::move(round));
}

}  // namespace app
