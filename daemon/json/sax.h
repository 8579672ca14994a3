// What every reading of a JSON text has in common: the limits, where it stops, and how it says so. Inside json only.
#pragma once

#include "json/tree.h"

#include <rapidjson/error/en.h>
#include <rapidjson/memorystream.h>
#include <rapidjson/reader.h>

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>
#include <utility>

namespace json {

// Base of the handlers: counts values and depth against the limits. `depth` is the number of containers that are open.
class Counting {
 public:
  explicit Counting(const Limits& limits) : limits_(limits) {}
  const std::string& stopped() const { return stopped_; }

  // Never called: numbers arrive as RawNumber.
  bool Int(int) { return false; }
  bool Uint(unsigned) { return false; }
  bool Int64(std::int64_t) { return false; }
  bool Uint64(std::uint64_t) { return false; }
  bool Double(double) { return false; }

 protected:
  bool may_open(std::size_t depth) {
    if (std::cmp_less(depth, limits_.depth)) return true;
    return stop("nested deeper than " + std::to_string(limits_.depth));
  }
  bool count() { return ++values_ <= limits_.values || stop("more than " + std::to_string(limits_.values) + " values"); }

 private:
  bool stop(std::string why) {
    stopped_ = std::move(why);
    return false;
  }

  Limits limits_;
  std::string stopped_;
  std::size_t values_ = 0;
};

inline Fault fault_at(std::string_view text, std::size_t offset, std::string why, bool too_large) {
  const auto before = text.substr(0, std::min(offset, text.size()));
  const auto line_start = before.rfind('\n');
  Fault fault{.offset = offset, .too_large = too_large, .text = std::move(why)};
  fault.line = 1 + static_cast<int>(std::ranges::count(before, '\n'));
  fault.column = 1 + static_cast<int>(line_start == std::string_view::npos ? before.size() : before.size() - line_start - 1);
  return fault;
}

// Feeds the whole text to the handler. nullopt: it is one sound JSON text within the limits.
template <class Handler>
std::optional<Fault> run(std::string_view text, const Limits& limits, Handler& handler) {
  if (text.size() > limits.bytes) return fault_at(text, 0, "larger than " + std::to_string(limits.bytes) + " bytes", true);
  constexpr std::string_view mark = "\xEF\xBB\xBF";
  const std::size_t start = text.starts_with(mark) ? mark.size() : 0;
  constexpr unsigned flags = rapidjson::kParseNumbersAsStringsFlag | rapidjson::kParseIterativeFlag | rapidjson::kParseValidateEncodingFlag;

  rapidjson::MemoryStream stream(text.data() + start, text.size() - start);
  rapidjson::Reader reader;
  const auto outcome = reader.Parse<flags>(stream, handler);
  const bool limited = !handler.stopped().empty();
  if (outcome.IsError()) return fault_at(text, start + outcome.Offset(), limited ? handler.stopped() : rapidjson::GetParseError_En(outcome.Code()), limited);
  // RapidJSON takes a NUL byte for the end of the text.
  if (stream.Tell() != text.size() - start) return fault_at(text, start + stream.Tell(), "A NUL byte after the value.", false);
  return std::nullopt;
}

}  // namespace json
