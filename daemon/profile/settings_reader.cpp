#include "profile/settings_reader.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <map>

#include "clinical/names.h"
#include "profile/protocol_limits.h"

namespace profile {
namespace {

using clinical::EarlyWalk;
using clinical::Exclusion;
using clinical::Protocol;
using clinical::Rule;
using clinical::Series;
using clinical::Setting;
using clinical::SettingUnit;
using tables::Kind;

constexpr const char* kEarly = "early-walk";

/// In the order of settings.def and early_walk.def.
std::vector<std::string> setting_keys() {
  std::vector<std::string> keys;
  const auto note = [&](const auto&, const char* key, auto...) { keys.emplace_back(key); };
  const Protocol none;
  const EarlyWalk no_rows;
  clinical::each_setting(none, note, note);
  clinical::each_optional(none, note);
  clinical::each_early(no_rows, note, note);
  return keys;
}

class SettingsReader {
 public:
  SettingsReader(const Item& root, std::string last_reviewed, bool whole, Faults& faults)
      : root_(root), last_reviewed_(std::move(last_reviewed)), whole_(whole), faults_(faults), keys_(setting_keys()) {}

  void read(Protocol& protocol) {
    if (!whole_) take_inherited(protocol);
    early_whole_ = root_.find(kEarly) && !protocol.early_walk;
    if (early_whole_) protocol.early_walk.emplace();
    for (const Item& item : root_.items)
      if (item.key != "protocol" && item.key != "approval" && item.key != "local") walk(item, item.key, "");
    clinical::each_setting(
        protocol, [&](Setting& setting, const char* key, SettingUnit unit) { read_setting(setting, key, unit); },
        [&](Series& series, const char* key) { read_series(series, key); });
    clinical::each_optional(protocol, [&](std::optional<Setting>& setting, const char* key, SettingUnit unit) {
      if (!found_.contains(key)) return;
      read_setting(setting.emplace(), key, unit);
    });
    if (protocol.early_walk)
      clinical::each_early(
          *protocol.early_walk, [&](Setting& setting, const char* key, SettingUnit unit) { read_setting(setting, key, unit); },
          [&](Exclusion& exclusion, const char* key) { read_exclusion(exclusion, key); });
    name_missing();
    check_orders(settings_, faults_);
  }

 private:
  /// Values of the inherited file have no place in this one.
  void take_inherited(Protocol& protocol) {
    const auto take = [&](Setting& setting, const char* key, SettingUnit) { settings_.emplace(key, ReadSetting{&setting, Place{}}); };
    clinical::each_setting(protocol, take, [](const Series&, const char*) {});
    if (protocol.early_walk) clinical::each_early(*protocol.early_walk, take, [](const Exclusion&, const char*) {});
  }

  /// Early rows are there whole or not at all.
  bool demanded(const std::string& key) const { return key.starts_with(std::string(kEarly) + ".") ? early_whole_ : whole_; }

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
      if (demanded(key)) missing_[table_and_name(key).first].push_back(table_and_name(key).second);
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

  void read_exclusion(Exclusion& exclusion, const std::string& key) {
    const Item* item = entry(key, "rows");
    if (!item) return;
    const Section section{*item, key, faults_};
    exclusion.rule = rule_of(section);
    exclusion.rows.clear();
    need_unit(section, clinical::name_of(SettingUnit::french));
    const Item* rows = section.need("rows", Kind::array);
    if (!rows) return;
    for (const Item& row : rows->items) {
      const auto micro = number_of(row, key);
      if (!micro) return;
      const int least = exclusion.rows.empty() ? EarlyWalk::kSmallest : exclusion.rows.back() + 1;
      if (*micro % clinical::kMicro != 0 || *micro < clinical::whole(least) || *micro > clinical::whole(EarlyWalk::kLargest))
        return faults_.add(row.at, fmt::format("'{}' has {} where an early row is wanted", key, row.text),
                           fmt::format("write sizes from {} to {}, ascending, each once", EarlyWalk::kSmallest, EarlyWalk::kLargest));
      exclusion.rows.push_back(static_cast<int>(*micro / clinical::kMicro));
    }
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
                  fmt::format("add {} with {}, unit, source, grade, check and date", names.size() == 1 ? "it" : "each", table == "early-walk.excluded" ? "rows" : "value"));
    }
  }

  const Item& root_;
  std::string last_reviewed_;
  bool whole_, early_whole_ = false;
  Faults& faults_;
  std::vector<std::string> keys_;
  std::map<std::string, const Item*> found_;
  std::map<std::string, Place> tables_;
  std::map<std::string, std::vector<std::string>> missing_;
  ReadSettings settings_;
};

}  // namespace

void read_settings(const Item& root, const std::string& last_reviewed, bool whole, clinical::Protocol& protocol, Faults& faults) {
  SettingsReader{root, last_reviewed, whole, faults}.read(protocol);
}

}  // namespace profile
