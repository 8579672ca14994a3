#include "fhir_read/profile_file.h"

#include <algorithm>
#include <utility>

namespace fhir_read {

ProfileFile::ProfileFile(const std::string& path) : document_(tables::read_file(path)) {}

Faults ProfileFile::take_faults() {
  tables::sort_faults(document_.faults);
  return std::move(document_.faults);
}

void ProfileFile::fail(const tables::Item& where, std::string text, std::string remedy) {
  const auto place = where.key_at.line != 0 ? where.key_at : where.at;
  document_.faults.push_back({document_.file, place.line, place.column, std::move(text), std::move(remedy)});
}

void ProfileFile::only(const tables::Item& table, std::initializer_list<std::string_view> allowed) {
  for (const auto& item : table.items) {
    if (std::ranges::find(allowed, std::string_view(item.key)) != allowed.end()) continue;
    const auto near = tables::nearest(item.key, {allowed.begin(), allowed.end()});
    fail(item, "unknown key '" + item.key + "'", near.empty() ? "remove it" : "write '" + near + "', or remove it");
  }
}

std::vector<const tables::Item*> ProfileFile::rows(std::string_view name) {
  std::vector<const tables::Item*> found;
  const auto* list = root().find(name);
  if (!list) return found;
  if (list->kind != tables::Kind::array) fail(*list, std::string(name) + " is no list of tables", "write [[" + std::string(name) + "]]");
  for (const auto& item : list->items) {
    if (item.is_table()) found.push_back(&item);
  }
  return found;
}

std::string ProfileFile::text(const tables::Item& table, std::string_view member) {
  const auto* item = table.find(member);
  if (!item) return {};
  if (!item->is_string()) fail(*item, std::string(member) + " is " + std::string(tables::name_of(item->kind)), "write a string");
  return item->is_string() ? item->text : std::string();
}

std::optional<bool> ProfileFile::boolean(const tables::Item& table, std::string_view member) {
  const auto* item = table.find(member);
  if (!item) return std::nullopt;
  if (item->kind != tables::Kind::boolean) fail(*item, std::string(member) + " is " + std::string(tables::name_of(item->kind)), "write true or false");
  return item->text == "true";
}

std::vector<std::string> ProfileFile::texts(const tables::Item& table, std::string_view member) {
  std::vector<std::string> found;
  const auto* list = table.find(member);
  if (!list) return found;
  const bool strings = list->kind == tables::Kind::array && std::ranges::all_of(list->items, &tables::Item::is_string);
  if (!strings) {
    fail(*list, std::string(member) + " is no list of strings", "write [\"...\", \"...\"]");
    return found;
  }
  for (const auto& item : list->items) found.push_back(item.text);
  return found;
}

}  // namespace fhir_read
