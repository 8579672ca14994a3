#include "profile/section.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace profile {

std::optional<std::chrono::year_month_day> day(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  const auto number = [&](std::size_t from, std::size_t count) {
    int sum = 0;
    for (const char c : text.substr(from, count)) sum = c >= '0' && c <= '9' && sum >= 0 ? sum * 10 + (c - '0') : -1;
    return sum;
  };
  const int year = number(0, 4), month = number(5, 2), of_month = number(8, 2);
  if (year < 1 || month < 1 || of_month < 1) return std::nullopt;
  const std::chrono::year_month_day result{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                                           std::chrono::day{static_cast<unsigned>(of_month)}};
  if (!result.ok()) return std::nullopt;
  return result;
}

std::pair<std::string, std::string> table_and_name(std::string_view key) {
  const auto dot = key.rfind('.');
  return {std::string{key.substr(0, dot)}, std::string{key.substr(dot + 1)}};
}

void Faults::add(Place at, std::string text, std::string remedy) {
  faults_.push_back({file_, at.line, at.column, std::move(text), std::move(remedy)});
}

void Faults::unknown(const Item& item, const std::vector<std::string>& known, std::string_view path_of_parent) {
  const std::string path = path_of_parent.empty() ? item.key : fmt::format("{}.{}", path_of_parent, item.key);
  const std::string near = tables::nearest(path, known);
  add(item.key_at, fmt::format("unknown {} '{}'", item.is_header() ? "table" : "key", path),
      near.empty() ? "remove it" : fmt::format("write '{}', or remove it", near));
}

std::vector<Fault> Faults::take() {
  tables::sort_faults(faults_);
  return std::move(faults_);
}

void Section::allow_only(std::initializer_list<std::string_view> members) const {
  std::vector<std::string> known;
  for (const auto member : members) known.push_back(fmt::format("{}.{}", name_, member));
  for (const Item& item : table_.items)
    if (std::find(members.begin(), members.end(), item.key) == members.end()) faults_.unknown(item, known, name_);
}

const Item* Section::need(std::string_view member, tables::Kind kind) const {
  const Item* item = table_.find(member);
  if (!item) {
    faults_.add(table_.key_at, fmt::format("'{}' has no {}", name_, member), fmt::format("add {} = ...", member));
    return nullptr;
  }
  if (item->kind != kind) {
    faults_.add(item->at, fmt::format("{} of '{}' is {}, not {}", member, name_, tables::name_of(item->kind), tables::name_of(kind)),
                fmt::format("write {}{}", tables::name_of(kind), kind == tables::Kind::string ? ", in quotes" : ""));
    return nullptr;
  }
  return item;
}

std::string Section::need_text(std::string_view member) const {
  const Item* item = need(member, tables::Kind::string);
  if (!item) return {};
  if (item->text.find_first_not_of(" \t") == std::string::npos) {
    faults_.add(item->at, fmt::format("{} of '{}' is empty", member, name_), fmt::format("say the {}", member));
    return {};
  }
  return item->text;
}

std::string Section::need_one_of(std::string_view member, std::initializer_list<std::string_view> choices) const {
  std::string text = need_text(member);
  if (text.empty() || std::find(choices.begin(), choices.end(), text) != choices.end()) return text;
  faults_.add(table_.find(member)->at, fmt::format("{} of '{}' is \"{}\"", member, name_, text),
              fmt::format("write one of {}", fmt::join(choices, ", ")));
  return {};
}

std::string Section::need_day(std::string_view member) const {
  std::string text = need_text(member);
  if (text.empty() || day(text)) return text;
  faults_.add(table_.find(member)->at, fmt::format("{} of '{}' is \"{}\", which is no day", member, name_, text),
              "write a day of the calendar as YYYY-MM-DD");
  return {};
}

}  // namespace profile
