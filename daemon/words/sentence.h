// A sentence with places for arguments, as templates/ writes it: "ACT {value} at {at} is over {limit}".
//   {name}    the argument, as words/format.h prints it
//   {Name}    the same with its first letter large
//   {at:up}, {at:date}, {hold:min}   a format: see Format
//   {{        a brace
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace words {

enum class Format {
  plain,
  up,    ///< an instant rounded up to the minute: for permissions ("not before"); plain rounds down
  date,  ///< an instant always with its date
  min    ///< a duration in minutes only: "165 min"
};

struct Slot {
  std::string name;
  Format format = Format::plain;
  bool capital = false;
};

using Piece = std::variant<std::string, Slot>;

struct ParsedSentence {
  std::vector<Piece> pieces;
  std::string fault;  ///< empty: none
};

/// Never throws. A brace that is not closed, an empty or odd name and an unknown format are the fault.
ParsedSentence parse_sentence(std::string_view text);

}  // namespace words
