// A TOML file as a tree in which every key and value knows its place and every number keeps its digits.
// The one owner of toml++. What the keys mean is known elsewhere.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "tables/fault.h"

namespace tables {

enum class Kind { table, array, string, number, boolean, date_time };

/// "a string", "a table", as a message says it.
std::string_view name_of(Kind);

struct Place {
  int line = 0;
  int column = 0;
};

struct Item {
  std::string key;          ///< empty in arrays and for the root
  Kind kind = Kind::table;
  Place key_at;             ///< where the key stands (in a table header: its last part); of an array element: its value
  Place at;                 ///< where the value stands
  std::string text;         ///< string: its value; number, boolean, date-time: exactly as written ("1.80", "true")
  std::vector<Item> items;  ///< of a table or array, in the order of the file

  bool is_table() const { return kind == Kind::table; }
  /// A table with its own [header], not one in braces.
  bool is_header() const { return is_table() && (at.line < key_at.line || (at.line == key_at.line && at.column < key_at.column)); }
  bool is_string() const { return kind == Kind::string; }
  /// Member of a table, or null. The pointer lives as long as this item does, unchanged.
  const Item* find(std::string_view name) const;
};

struct Document {
  std::string file;          ///< as named by the caller
  std::string bytes;         ///< the text as read
  Item root;                 ///< empty when there is a syntax fault
  std::vector<Fault> faults; ///< at most one: what follows a syntax error cannot be judged
};

/// Never throws; a syntax error, a repeated key or bytes that are not UTF-8 are a fault.
Document read_text(std::string text, std::string name);
/// As read_text; a file that cannot be read is a fault without a place.
Document read_file(const std::filesystem::path&);

/// A plain decimal ("150", "-0.5", "1.80") in millionths, exactly; none for any other form (exponent, underscore, hexadecimal, infinity),
/// for more than six decimal places that are not zero, and for what does not fit.
std::optional<long long> millionths(std::string_view digits);

/// The shortest plain decimal of so many millionths: "150", "1.8", "-0.000001".
std::string decimal(long long micro);

/// The known name that was most likely meant, or empty when none is near: one slip in three letters of the part after the last dot, at least one.
std::string nearest(std::string_view name, const std::vector<std::string>& known);

}  // namespace tables
