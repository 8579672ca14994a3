// Reading the rows of a terminology or site file: lists of texts and words under names, and a fault for everything else.
#pragma once

#include "tables/document.h"

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

using Faults = std::vector<tables::Fault>;

// One file. Faults are collected; a faulty element reads as empty.
class ProfileFile {
 public:
  explicit ProfileFile(const std::string& path);

  const tables::Item& root() const { return document_.root; }
  Faults take_faults();
  void fail(const tables::Item& where, std::string text, std::string remedy);

  // A fault for each member of `table` that is in none of `allowed`.
  void only(const tables::Item& table, std::initializer_list<std::string_view> allowed);
  // The [[name]] tables; a missing name gives none.
  std::vector<const tables::Item*> rows(std::string_view name);
  // Optional members; a fault on a wrong kind.
  std::string text(const tables::Item& table, std::string_view member);
  std::optional<bool> boolean(const tables::Item& table, std::string_view member);
  std::vector<std::string> texts(const tables::Item& table, std::string_view member);
  // The text of `member` looked up by `named`; a fault when it is unknown.
  template <class T>
  T word(const tables::Item& table, std::string_view member, std::optional<T> (*named)(std::string_view)) {
    const auto name = text(table, member);
    if (const auto value = named(name)) return *value;
    const auto* item = table.find(member);
    fail(item ? *item : table, "unknown " + std::string(member) + " '" + name + "'", "write a name that this program knows");
    return {};
  }

 private:
  tables::Document document_;
};

}  // namespace fhir_read
