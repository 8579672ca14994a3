#include "fhir_read/site_codes.h"

#include "fhir/codes.h"

#include <algorithm>
#include <array>
#include <set>

namespace fhir_read {
namespace {

using tables::Fault;

constexpr std::size_t kEntries = 200'000;  // of one file
constexpr int kDepth = 12;                 // expansion.contains in each other

// "http://loinc.org|2.74" -> http://loinc.org
std::string system_of(std::string_view written) { return fhir::canonical_system(written.substr(0, written.find('|'))); }

std::string written(const CodeKey& key) { return key.system + "|" + key.code; }

// Reads one file, with the path of what it looks at.
class FhirFile {
 public:
  FhirFile(const std::string& file, SiteCodes& codes) : file_(file), codes_(codes) {}

  // Null after a fault.
  json::Value open(std::string_view text, std::string_view type) {
    auto parsed = json::parse(text);
    if (parsed.has_error()) {
      codes_.faults.push_back({file_, parsed.error().line, parsed.error().column, "no JSON: " + parsed.error().text, "correct it"});
      return {};
    }
    if ((*parsed)["resourceType"].text() != type) fault("resourceType", "this is no " + std::string(type), "name a " + std::string(type) + " of R4, R4B or R5 in JSON");
    else if (holds_modifier(*parsed)) fault("modifierExtension", "it has a modifierExtension, which is not understood here", "remove it, if the file says the same without it");
    else if ((*parsed)["status"].text() == "retired") fault("status", "it is retired", "name the one that is in use");
    else return std::move(*parsed);
    return {};
  }

  void fault(const std::string& path, const std::string& text, std::string remedy) { codes_.faults.push_back(at(path, text, std::move(remedy))); }
  void leave_out(const std::string& path, std::string what, std::string why) { codes_.left_out.push_back({at(path, "", ""), std::move(what), std::move(why)}); }
  void say(const std::string& path, CodeKey local, CodeKey means, bool same) {
    codes_.sayings.push_back({std::move(local), std::move(means), same, at(path, "", "")});
  }

 private:
  Fault at(const std::string& path, const std::string& text, std::string remedy) const { return {file_, 0, 0, path + (text.empty() ? "" : ": " + text), std::move(remedy)}; }

  static bool holds_modifier(const json::Value& value) {
    if (std::ranges::any_of(value.items(), holds_modifier)) return true;
    return std::ranges::any_of(value.members(), [](const json::Member& m) { return m.name == "modifierExtension" || m.name == "implicitRules" || holds_modifier(m.value); });
  }

  const std::string& file_;
  SiteCodes& codes_;
};

std::string indexed(std::string_view name, std::size_t i) { return std::string(name) + "[" + std::to_string(i) + "]"; }

enum class Taken { same, denied, left_out, unknown };

Taken taken(std::string_view word) {
  constexpr std::array<std::string_view, 3> same{"equal", "equivalent", "source-is-narrower-than-target"};
  constexpr std::array<std::string_view, 2> denied{"disjoint", "not-related-to"};
  constexpr std::array<std::string_view, 9> left_out{"relatedto", "wider", "subsumes", "narrower", "specializes", "inexact", "unmatched", "related-to", "source-is-broader-than-target"};
  if (std::ranges::find(same, word) != same.end()) return Taken::same;
  if (std::ranges::find(denied, word) != denied.end()) return Taken::denied;
  return std::ranges::find(left_out, word) != left_out.end() ? Taken::left_out : Taken::unknown;
}

struct Group {
  std::string source, target, path;
};

void read_target(FhirFile& file, const Group& group, const std::string& code, const json::Value& target, const std::string& path) {
  const bool r5 = target.has("relationship");
  const auto word = r5 ? target["relationship"].text() : target["equivalence"].text();
  const std::string element = path + (r5 ? ".relationship" : ".equivalence");
  const auto kind = taken(word);
  if (kind == Taken::unknown) return file.fault(element, "\"" + std::string(word) + "\" says not how the two codes are related", "write one of R4's equivalence or R5's relationship codes");
  if (kind == Taken::left_out) return file.leave_out(element, group.source + "|" + code, std::string(word) + " is not enough to take one code for the other");
  if (target["code"].text().empty()) return file.fault(path + ".code", "the target has no code", "add it");
  if (target["dependsOn"].size() > 0 || target["product"].size() > 0) return file.leave_out(path + ".dependsOn", group.source + "|" + code, "it holds under conditions only");
  file.say(path, {group.source, code}, {group.target, std::string(target["code"].text())}, kind == Taken::same);
}

void read_element(FhirFile& file, const Group& group, const json::Value& element, const std::string& path) {
  const std::string code(element["code"].text());
  if (code.empty() && element.has("valueSet")) return file.leave_out(path + ".valueSet", std::string(element["valueSet"].text()), "a whole value set is no source here");
  if (code.empty()) return file.fault(path + ".code", "the element has no code", "add it");
  if (element["noMap"].boolean() == true || element["target"].size() == 0) return file.leave_out(path, group.source + "|" + code, "it has no target");
  for (std::size_t i = 0; i < element["target"].size(); ++i) read_target(file, group, code, element["target"].at(i), path + "." + indexed("target", i));
}

bool lists_codes(const json::Value& include) { return include["concept"].size() > 0 && include["filter"].size() == 0 && include["valueSet"].size() == 0; }

void read_contains(FhirFile& file, const json::Value& contains, const CodeKey& means, const std::string& path, int depth) {
  for (std::size_t i = 0; i < contains.size(); ++i) {
    const auto& one = contains.at(i);
    const std::string here = path + "." + indexed("contains", i);
    if (depth > kDepth) return file.fault(here, "nested too deep", "flatten the expansion");
    const bool a_code = !one["code"].text().empty() && one["abstract"].boolean() != true;
    if (a_code) file.say(here, {system_of(one["system"].text()), std::string(one["code"].text())}, means, true);
    read_contains(file, one["contains"], means, here, depth + 1);
  }
}

std::size_t codes_in(const json::Value& contains) {
  std::size_t count = contains.size();
  for (const auto& one : contains.items()) count += codes_in(one["contains"]);
  return count;
}

void read_expansion(FhirFile& file, const json::Value& expansion, const CodeKey& means) {
  const auto total = expansion["total"].integer();
  const auto here = codes_in(expansion["contains"]);
  if (total && *total > static_cast<std::int64_t>(here)) return file.fault("expansion.total", "only " + std::to_string(here) + " of " + std::to_string(*total) + " codes are here", "save the whole expansion");
  read_contains(file, expansion["contains"], means, "expansion", 0);
}

void read_compose(FhirFile& file, const json::Value& compose, const CodeKey& means) {
  constexpr const char* remedy = "save it with its expansion";
  if (compose["include"].size() == 0) return file.fault("compose.include", "it lists no codes", remedy);
  std::set<CodeKey> out;
  for (std::size_t i = 0; i < compose["exclude"].size(); ++i) {
    const auto& exclude = compose["exclude"].at(i);
    if (!lists_codes(exclude)) return file.fault("compose." + indexed("exclude", i), "what it excludes cannot be worked out here", remedy);
    for (const auto& one : exclude["concept"].items()) out.insert({system_of(exclude["system"].text()), std::string(one["code"].text())});
  }
  for (std::size_t i = 0; i < compose["include"].size(); ++i) {
    const auto& include = compose["include"].at(i);
    const std::string path = "compose." + indexed("include", i);
    if (!lists_codes(include)) {
      file.fault(path, "what it includes (a whole system, a filter, another value set) cannot be worked out here", remedy);
      continue;
    }
    for (std::size_t k = 0; k < include["concept"].size(); ++k) {
      CodeKey key{system_of(include["system"].text()), std::string(include["concept"].at(k)["code"].text())};
      if (key.code.empty()) file.fault(path + "." + indexed("concept", k), "no code", "add it");
      else if (!out.contains(key)) file.say(path + "." + indexed("concept", k), std::move(key), means, true);
    }
  }
}

// Everything that a code means to this program, in words that differ where the meanings do. Empty: nothing.
template <class Table, class Word>
void add_meaning(const Table& table, const CodeKey& key, const char* kind, Word word, std::set<std::string>& found) {
  if (const auto* meaning = table.find(key)) found.insert(std::string(kind) + " " + word(*meaning));
}

std::set<std::string> meanings(const CodeKey& key, const Terminology& t) {
  std::set<std::string> found;
  const auto number = [](const auto& value) { return std::to_string(static_cast<int>(value)); };
  add_meaning(t.drugs, key, "drug", [&](const DrugMeaning& d) { return number(d.agent) + (d.flush ? " flush" : ""); }, found);
  if (key.system == fhir::system_uri::atc && found.empty())
    for (const auto& group : t.atc_groups)
      if (key.code.starts_with(group.prefix)) found.insert("drug " + number(group.agent));
  add_meaning(t.routes, key, "route", number, found);
  add_meaning(t.measurements, key, "measurement", number, found);
  add_meaning(t.catheters, key, "catheter", number, found);
  add_meaning(t.sites, key, "site", [&](const SiteMeaning& s) { return number(s.femoral) + number(s.side) + number(s.vessel); }, found);
  add_meaning(t.laterality, key, "laterality", number, found);
  add_meaning(t.sheaths, key, "sheath", number, found);
  add_meaning(t.closures, key, "closure", number, found);
  add_meaning(t.risks, key, "risk", number, found);
  add_meaning(t.orders, key, "order", number, found);
  if (const auto event = t.events.find(key); event != t.events.end()) found.insert("event " + number(event->second));
  if (t.home_lists.contains(key)) found.insert("list of home drugs");
  if (key.system.starts_with(AFTERSHEATH_BASE)) found.insert(written(key));
  return found;
}

Fault placed(const Fault& place, const std::string& text, std::string remedy) {
  Fault fault = place;
  fault.text += (fault.text.empty() ? "" : ": ") + text;
  fault.remedy = std::move(remedy);
  return fault;
}

// All that is said of one local code.
class Settling {
 public:
  Settling(SiteCodes& codes, const Terminology& terms) : codes_(codes), terms_(terms) {}

  void settle(const std::vector<const CodeSaying*>& sayings, std::map<CodeKey, CodeKey>& result) {
    const CodeSaying* chosen = nullptr;
    std::set<std::string> meaning;
    const auto own = meanings(sayings.front()->local, terms_);
    for (const auto* one : sayings) {
      if (!one->same) continue;
      if (denied(*one, sayings)) return;
      const auto means = meanings(one->means, terms_);
      if (means.empty()) {
        codes_.left_out.push_back({one->place, written(one->local) + " for " + written(one->means), "what it means is not looked for here"});
        if (!chosen) chosen = one;
        continue;
      }
      if (!own.empty() && own != means) return fault(*one, "means " + written(one->means) + ", but this program knows it as something else");
      if (!meaning.empty() && meaning != means) return fault(*one, "means " + written(one->means) + " here and " + written(chosen->means) + " in " + chosen->place.file);
      if (meaning.empty()) chosen = one;
      meaning = means;
    }
    if (chosen) result.emplace(chosen->local, chosen->means);
  }

 private:
  bool denied(const CodeSaying& said, const std::vector<const CodeSaying*>& sayings) {
    for (const auto* other : sayings)
      if (!other->same && other->means == said.means) {
        fault(said, "means " + written(said.means) + " here, and in " + other->place.file + " (" + other->place.text + ") it is unrelated to it");
        return true;
      }
    return false;
  }
  void fault(const CodeSaying& said, const std::string& text) { codes_.faults.push_back(placed(said.place, written(said.local) + " " + text, "decide which is right, and remove the other")); }

  SiteCodes& codes_;
  const Terminology& terms_;
};

}  // namespace

void read_concept_map(const std::string& name, std::string_view text, SiteCodes& codes) {
  FhirFile file(name, codes);
  const auto map = file.open(text, "ConceptMap");
  std::size_t seen = 0;
  for (std::size_t g = 0; g < map["group"].size(); ++g) {
    const auto& one = map["group"].at(g);
    const Group group{system_of(one["source"].text()), system_of(one["target"].text()), indexed("group", g)};
    if (group.target.empty() || !one.has("source")) {
      file.fault(group.path, "the group does not say from which system to which it maps", "add source and target");
      continue;
    }
    if (one.has("unmapped")) file.leave_out(group.path + ".unmapped", group.source, "a code that is not listed means nothing here");
    if ((seen += one["element"].size()) > kEntries) return file.fault(group.path, "more than " + std::to_string(kEntries) + " codes", "leave out what does not matter here");
    for (std::size_t i = 0; i < one["element"].size(); ++i) read_element(file, group, one["element"].at(i), group.path + "." + indexed("element", i));
  }
  if (map.is_object() && map["group"].size() == 0) file.fault("group", "it maps nothing", "add a group, or do not name the file");
}

void read_value_set(const std::string& name, std::string_view text, const CodeKey& means, SiteCodes& codes) {
  FhirFile file(name, codes);
  const auto set = file.open(text, "ValueSet");
  if (set.is_null()) return;
  if (set.has("expansion")) read_expansion(file, set["expansion"], means);
  else read_compose(file, set["compose"], means);
}

std::vector<Fault> notes_on(const std::vector<SiteCodes::LeftOut>& left_out) {
  std::vector<std::pair<const SiteCodes::LeftOut*, std::size_t>> first;  // of each file and reason
  for (const auto& one : left_out) {
    const auto known = std::ranges::find_if(first, [&](const auto& f) { return f.first->place.file == one.place.file && f.first->why == one.why; });
    if (known != first.end()) ++known->second;
    else first.emplace_back(&one, 1);
  }
  std::vector<Fault> notes;
  for (const auto& [one, count] : first)
    notes.push_back(placed(one->place, one->what + " is left out" + (count > 1 ? ", and " + std::to_string(count - 1) + " more" : "") + ": " + one->why, ""));
  return notes;
}

std::map<CodeKey, CodeKey> settle(SiteCodes& codes, const Terminology& terms) {
  std::map<CodeKey, std::vector<const CodeSaying*>> by_code;
  for (const auto& one : codes.sayings) by_code[one.local].push_back(&one);
  std::map<CodeKey, CodeKey> result;
  Settling settling(codes, terms);
  for (const auto& [local, sayings] : by_code) settling.settle(sayings, result);
  return result;
}

}  // namespace fhir_read
