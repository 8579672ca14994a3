// Reading one table of a file that a person wrote: what must be there, what may be there, and a fault for everything else.
#pragma once

#include <chrono>
#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "tables/document.h"

namespace profile {

using tables::Fault;
using tables::Item;
using tables::Place;

/// A real day of the calendar written YYYY-MM-DD; none for anything else (2026-02-30, 2026-2-3).
std::optional<std::chrono::year_month_day> day(std::string_view text);

/// "gate.act.limit" is limit in [gate.act].
std::pair<std::string, std::string> table_and_name(std::string_view key);

/// Collects what is wrong in one file.
class Faults {
 public:
  explicit Faults(std::string file) : file_(std::move(file)) {}
  void add(Place, std::string text, std::string remedy);
  /// "unknown key 'x'", with the nearest known one as the remedy.
  void unknown(const Item&, const std::vector<std::string>& known, std::string_view path_of_parent);
  std::vector<Fault> take();  ///< sorted

 private:
  std::string file_;
  std::vector<Fault> faults_;
};

/// The members of one table. `name` is how messages call it ("gate.act.limit").
class Section {
 public:
  Section(const Item& table, std::string name, Faults& faults) : table_(table), name_(std::move(name)), faults_(faults) {}

  /// Faults every member that is not one of these.
  void allow_only(std::initializer_list<std::string_view> members) const;
  /// The member, of that kind, or null with a fault (absent, or another kind).
  const Item* need(std::string_view member, tables::Kind kind) const;
  /// A string with something in it, or "" with a fault.
  std::string need_text(std::string_view member) const;
  /// A string that is one of these, or "" with a fault.
  std::string need_one_of(std::string_view member, std::initializer_list<std::string_view> choices) const;
  /// A day as text, or "" with a fault.
  std::string need_day(std::string_view member) const;

  const Item& table() const { return table_; }
  const std::string& name() const { return name_; }
  Faults& faults() const { return faults_; }

 private:
  const Item& table_;
  std::string name_;
  Faults& faults_;
};

}  // namespace profile
