#include "profile/protocol_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "clinical/names.h"
#include "profile/settings_reader.h"
#include "profile/sha256.h"

namespace profile {
namespace {

using clinical::Protocol;
using clinical::Series;
using clinical::Setting;
using clinical::SettingUnit;
using tables::Kind;

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
  std::string name, role, covers, date;
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
    const Approval approval{section.need_text("name"), section.need_text("role"), section.need_text("covers"), section.need_day("date"), item.at};
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
  for (const Approval& approval : covering) {
    loaded.approved_by.push_back(approval.name + ", " + approval.role);
    loaded.approved_on = std::max(loaded.approved_on, approval.date);
  }
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
  if (!document.faults.empty()) return {{}, std::move(document.faults), {}, {}, {}, {}};
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
  if (loaded.faults.empty()) read_settings(document.root, header.last_reviewed, header.inherits.empty(), protocol, faults);
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
  const auto number = [&](const Setting& setting, const char* key, SettingUnit unit) {
    out += fmt::format("{}={} {}\n", key, tables::decimal(setting.micro), clinical::name_of(unit));
  };
  clinical::each_setting(protocol, number, [&](const Series& series, const char* key) { out += fmt::format("{}={} min\n", key, canonical_steps(series)); });
  clinical::each_optional(protocol, [&](const std::optional<Setting>& setting, const char* key, SettingUnit unit) {
    if (setting) number(*setting, key, unit);
  });
  if (protocol.early_walk)
    clinical::each_early(*protocol.early_walk, number, [&](const clinical::Exclusion& one, const char* key) {
      out += fmt::format("{}={} {}\n", key, fmt::join(one.rows, " "), clinical::name_of(SettingUnit::french));
    });
  for (const auto& [key, text] : protocol.local)
    if (!text.empty()) out += fmt::format("local.{}={}\n", key, text);
  return out;
}

}  // namespace profile
