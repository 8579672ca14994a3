#include "profile/protocol_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>

#include "clinical/names.h"
#include "profile/protocol_limits.h"
#include "profile/sha256.h"

namespace profile {
namespace {

using clinical::Protocol;
using clinical::Rule;
using clinical::Series;
using clinical::Setting;
using clinical::SettingUnit;
using tables::Kind;

/// In the order of settings.def.
std::vector<std::string> setting_keys() {
  std::vector<std::string> keys;
  Protocol none;
  const auto note = [&](const auto&, const char* key, auto...) { keys.emplace_back(key); };
  clinical::each_setting(none, note, note);
  return keys;
}

/// Reads the settings of one file into a Protocol. With `whole` each must be there; else what is not there stays as it is.
class SettingsReader {
 public:
  SettingsReader(const Item& root, std::string last_reviewed, bool whole, Faults& faults)
      : root_(root), last_reviewed_(std::move(last_reviewed)), whole_(whole), faults_(faults), keys_(setting_keys()) {}

  void read(Protocol& protocol) {
    if (!whole_) take_inherited(protocol);
    for (const Item& item : root_.items)
      if (item.key != "protocol" && item.key != "approval" && item.key != "local") walk(item, item.key, "");
    clinical::each_setting(
        protocol, [&](Setting& setting, const char* key, SettingUnit unit) { read_setting(setting, key, unit); },
        [&](Series& series, const char* key) { read_series(series, key); });
    if (whole_) name_missing();
    check_orders(settings_, faults_);
  }

 private:
  /// Values of the inherited file have no place in this one.
  void take_inherited(Protocol& protocol) {
    clinical::each_setting(protocol, [&](Setting& setting, const char* key, SettingUnit) { settings_.emplace(key, ReadSetting{&setting, Place{}}); }, [](const Series&, const char*) {});
  }

  void walk(const Item& item, const std::string& path, std::string_view parent) {
    if (std::find(keys_.begin(), keys_.end(), path) != keys_.end()) {
      found_.emplace(path, &item);
      return;
    }
    const bool leads_on = std::any_of(keys_.begin(), keys_.end(), [&](const std::string& key) { return key.starts_with(path + "."); });
    if (!leads_on) return faults_.unknown(item, keys_and_tables(), parent);
    if (!item.is_table()) return faults_.add(item.at, fmt::format("'{}' is {}, not a table", path, tables::name_of(item.kind)), "write the settings of this table below it");
    tables_.emplace(path, item.key_at);
    for (const Item& child : item.items) walk(child, fmt::format("{}.{}", path, child.key), path);
  }

  std::vector<std::string> keys_and_tables() const {
    std::vector<std::string> names = keys_;
    for (const std::string& key : keys_)
      for (auto dot = key.find('.'); dot != std::string::npos; dot = key.find('.', dot + 1)) names.push_back(key.substr(0, dot));
    return names;
  }

  /// The inline table of a setting, checked for its members; null with a fault or a note of what is missing.
  const Item* entry(const std::string& key, std::string_view number) {
    const auto found = found_.find(key);
    if (found == found_.end()) {
      missing_[table_and_name(key).first].push_back(table_and_name(key).second);
      return nullptr;
    }
    if (!found->second->is_table()) {
      faults_.add(found->second->at, fmt::format("'{}' is {}, without unit and source", key, tables::name_of(found->second->kind)),
                  fmt::format("write {{ {} = ..., unit = \"...\", source = \"...\", grade = \"...\", check = \"...\", date = \"YYYY-MM-DD\" }}", number));
      return nullptr;
    }
    Section{*found->second, key, faults_}.allow_only({number, "unit", "source", "grade", "check", "date"});
    return found->second;
  }

  Rule rule_of(const Section& entry) const {
    Rule rule{entry.name(), entry.need_text("source"), entry.need_one_of("grade", {"L", "G", "T", "R", "O", "P", "B", "C", "D"}),
              entry.need_one_of("check", {"V", "Vs", "M", "CP", "OWN"}), entry.need_day("date")};
    if (!rule.date.empty() && !last_reviewed_.empty() && rule.date > last_reviewed_)
      faults_.add(entry.table().find("date")->at, fmt::format("date of '{}' is {}, after last-reviewed {}", rule.key, rule.date, last_reviewed_),
                  "correct the date, or review the file and move last-reviewed");
    return rule;
  }

  void need_unit(const Section& entry, std::string_view unit) const {
    const std::string written = entry.need_text("unit");
    if (!written.empty() && written != unit)
      faults_.add(entry.table().find("unit")->at, fmt::format("unit of '{}' is \"{}\"", entry.name(), written),
                  fmt::format("convert the value and write unit = \"{}\"", unit));
  }

  std::optional<long long> number_of(const Item& item, const std::string& key) const {
    const auto micro = item.kind == Kind::number ? tables::millionths(item.text) : std::nullopt;
    if (!micro)
      faults_.add(item.at, fmt::format("'{}' has {} where a number is wanted", key, item.kind == Kind::number ? item.text : tables::name_of(item.kind)),
                  "write a plain decimal of at most six places, without quotes");
    return micro;
  }

  void read_setting(Setting& setting, const std::string& key, SettingUnit unit) {
    const Item* item = entry(key, "value");
    if (!item) return;
    const Section section{*item, key, faults_};
    setting.unit = unit;
    setting.rule = rule_of(section);
    need_unit(section, clinical::name_of(unit));
    const Item* value = item->find("value");
    if (!value) return static_cast<void>(section.need("value", Kind::number));
    const auto micro = number_of(*value, key);
    if (!micro) return;
    setting.micro = *micro;
    const ReadSetting read{&setting, value->at};
    if (check_range(key, read, faults_)) settings_.insert_or_assign(key, read);
  }

  void read_series(Series& series, const std::string& key) {
    const Item* item = entry(key, "steps");
    if (!item) return;
    const Section section{*item, key, faults_};
    series.rule = rule_of(section);
    series.steps.clear();
    need_unit(section, "min");
    const Item* steps = section.need("steps", Kind::array);
    if (!steps) return;
    if (steps->items.empty()) faults_.add(steps->at, fmt::format("'{}' has no step", key), "write [[count, minutes], ...]");
    for (const Item& step : steps->items) series.steps.push_back(read_step(step, key, &step == &steps->items.back()));
  }

  clinical::SeriesStep read_step(const Item& step, const std::string& key, bool last) const {
    constexpr int most_checks = 100, longest_gap = 1440;
    std::vector<int> numbers;
    for (const Item& item : step.items) {
      const auto micro = number_of(item, key);
      if (!micro) return {};
      const bool fits = *micro >= 0 && *micro <= clinical::whole(longest_gap) && *micro % clinical::kMicro == 0;
      numbers.push_back(fits ? static_cast<int>(*micro / clinical::kMicro) : -1);
    }
    const bool sound = numbers.size() == 2 && numbers[0] >= (last ? 0 : 1) && numbers[0] <= most_checks && numbers[1] >= 1;
    if (!sound) {
      faults_.add(step.at, fmt::format("'{}' has a step that is not [count, minutes]", key),
                  fmt::format("write a whole count (1 to {}; 0, until the end, only in the last step) and whole minutes (1 to {})", most_checks, longest_gap));
      return {};
    }
    return {numbers[0], clinical::minutes{numbers[1]}};
  }

  /// One fault a table, at the nearest table that is there.
  void name_missing() {
    for (const auto& [table, names] : missing_) {
      std::string present = table;
      while (!tables_.contains(present) && present.find('.') != std::string::npos) present = table_and_name(present).first;
      const auto at = tables_.find(present);
      faults_.add(at == tables_.end() ? Place{} : at->second, fmt::format("[{}] lacks {}", table, fmt::join(names, ", ")),
                  fmt::format("add {} with value, unit, source, grade, check and date", names.size() == 1 ? "it" : "each"));
    }
  }

  const Item& root_;
  std::string last_reviewed_;
  bool whole_;
  Faults& faults_;
  std::vector<std::string> keys_;
  std::map<std::string, const Item*> found_;
  std::map<std::string, Place> tables_;
  std::map<std::string, std::vector<std::string>> missing_;
  ReadSettings settings_;
};

struct Header {
  std::string last_reviewed, inherits;
  bool active = false;
};

Header read_header(const Item& root, Protocol& protocol, Faults& faults) {
  const Item* table = root.find("protocol");
  if (!table || !table->is_table()) {
    faults.add(table ? table->at : Place{}, "there is no table [protocol]", "add [protocol] with id, version, title, status and last-reviewed");
    return {};
  }
  const Section section{*table, "protocol", faults};
  section.allow_only({"id", "version", "title", "status", "last-reviewed", "inherits"});
  protocol.id = section.need_text("id");
  protocol.version = section.need_text("version");
  protocol.title = section.need_text("title");
  const bool active = section.need_one_of("status", {"draft", "active"}) == "active";
  const std::string inherits = table->find("inherits") ? section.need_text("inherits") : "";
  return {section.need_day("last-reviewed"), inherits, active};
}

void read_local(const Item& root, Protocol& protocol, Faults& faults) {
  if (protocol.local.empty())
    for (const auto key : clinical::kLocalKeys) protocol.local.emplace_back(key, "");
  const Item* table = root.find("local");
  if (!table) return;
  if (!table->is_table()) return faults.add(table->at, "'local' is not a table", "write [local] and its texts below it");
  std::vector<std::string> names;
  for (const auto key : clinical::kLocalKeys) names.push_back(fmt::format("local.{}", key));
  for (const Item& item : table->items) {
    const auto known = std::find_if(protocol.local.begin(), protocol.local.end(), [&](const auto& one) { return one.first == item.key; });
    if (known == protocol.local.end()) faults.unknown(item, names, "local");
    else if (item.kind != Kind::string) faults.add(item.at, fmt::format("'local.{}' is {}", item.key, tables::name_of(item.kind)), "write a text, in quotes; \"\" where it is not set");
    else known->second = item.text;
  }
}

struct Approval {
  std::string name, role, covers;
  Place at;
};

std::vector<Approval> read_approvals(const Item& root, Faults& faults) {
  std::vector<Approval> approvals;
  const Item* list = root.find("approval");
  if (!list) return approvals;
  if (list->kind != Kind::array) {
    faults.add(list->at, "'approval' is not a list", "write [[approval]] with two brackets, once for each approval");
    return approvals;
  }
  for (const Item& item : list->items) {
    const Section section{item, "approval", faults};
    section.allow_only({"name", "role", "date", "covers"});
    const Approval approval{section.need_text("name"), section.need_text("role"), section.need_text("covers"), item.at};
    section.need_day("date");
    if (!approval.covers.empty() && (approval.covers.size() != 64 || approval.covers.find_first_not_of("0123456789abcdef") != std::string::npos))
      faults.add(item.find("covers")->at, "covers of 'approval' is no SHA-256", "write the 64 lower-case digits that the check command prints");
    approvals.push_back(approval);
  }
  return approvals;
}

/// Two people in two roles: nobody approves alone.
bool two_of(const std::vector<Approval>& approvals) {
  return std::any_of(approvals.begin(), approvals.end(), [&](const Approval& a) {
    return std::any_of(approvals.begin(), approvals.end(), [&](const Approval& b) { return a.name != b.name && a.role != b.role; });
  });
}

void judge_approvals(LoadedProtocol& loaded, const std::vector<Approval>& approvals, bool active, const std::string& file) {
  Faults notes{file};
  std::vector<Approval> covering;
  for (const Approval& approval : approvals) {
    if (approval.covers == loaded.values_sha256) covering.push_back(approval);
    else notes.add(approval.at, fmt::format("the approval by {} covers other values than these", approval.name), fmt::format("approve anew: covers = \"{}\"", loaded.values_sha256));
  }
  loaded.protocol->approved = active && two_of(covering);
  if (!covering.empty() && !two_of(covering))
    notes.add(covering.front().at, fmt::format("only {} ({}) approves these values", covering.front().name, covering.front().role),
              "have a second person in another role approve them");
  if (active && !loaded.protocol->approved) notes.add({}, "the status is active, but the approvals of these values are not complete", "treat it as not approved");
  if (!active && two_of(covering)) notes.add({}, "two people approve these values, but the status is draft", "write status = \"active\" when it is to be used");
  loaded.notes = notes.take();
}

std::string canonical_steps(const Series& series) {
  std::vector<std::string> steps;
  for (const auto& step : series.steps) steps.push_back(fmt::format("{}x{}", step.count, step.every.count()));
  return fmt::format("{}", fmt::join(steps, " "));
}

constexpr int kGenerations = 3;  // files in a row

LoadedProtocol load(tables::Document document, int generation);

/// The file that this one builds on, beside it; its approvals are not these values'.
std::optional<Protocol> inherited(const std::string& name, const tables::Document& heir, int generation, LoadedProtocol& out, Faults& faults) {
  if (generation >= kGenerations) {
    faults.add({}, fmt::format("more than {} protocol files inherit from each other", kGenerations), "write the values into fewer files");
    return std::nullopt;
  }
  auto base = load(tables::read_file(std::filesystem::path(heir.file).parent_path() / name), generation + 1);
  out.faults.insert(out.faults.end(), base.faults.begin(), base.faults.end());
  return std::move(base.protocol);
}

LoadedProtocol load(tables::Document document, int generation) {
  if (!document.faults.empty()) return {{}, std::move(document.faults), {}, {}};
  Faults faults{document.file};
  LoadedProtocol loaded;
  Protocol protocol;
  const Header header = read_header(document.root, protocol, faults);
  std::string before;
  if (!header.inherits.empty()) {
    auto base = inherited(header.inherits, document, generation, loaded, faults);
    if (base) {
      before = base->sha256 + "\n";
      base->id = protocol.id, base->version = protocol.version, base->title = protocol.title, base->approved = false;
      protocol = std::move(*base);
    }
  }
  const auto approvals = read_approvals(document.root, faults);
  read_local(document.root, protocol, faults);
  if (loaded.faults.empty()) SettingsReader{document.root, header.last_reviewed, header.inherits.empty(), faults}.read(protocol);
  for (auto& fault : faults.take()) loaded.faults.push_back(std::move(fault));
  if (!loaded.faults.empty()) return loaded;
  protocol.sha256 = sha256_hex(before + document.bytes);
  protocol.file = document.file;
  loaded.values_sha256 = sha256_hex(canonical_values(protocol));
  loaded.protocol = std::move(protocol);
  judge_approvals(loaded, approvals, header.active, document.file);
  return loaded;
}

}  // namespace

LoadedProtocol load_protocol(const std::filesystem::path& path) { return load(tables::read_file(path), 1); }
LoadedProtocol load_protocol_text(std::string text, std::string name) { return load(tables::read_text(std::move(text), std::move(name)), 1); }

std::string canonical_values(const Protocol& protocol) {
  std::string out;
  clinical::each_setting(
      protocol,
      [&](const Setting& setting, const char* key, SettingUnit unit) {
        out += fmt::format("{}={} {}\n", key, tables::decimal(setting.micro), clinical::name_of(unit));
      },
      [&](const Series& series, const char* key) { out += fmt::format("{}={} min\n", key, canonical_steps(series)); });
  for (const auto& [key, text] : protocol.local)
    if (!text.empty()) out += fmt::format("local.{}={}\n", key, text);
  return out;
}

}  // namespace profile
