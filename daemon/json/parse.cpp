#include "json/tree.h"

#include <rapidjson/error/en.h>
#include <rapidjson/memorystream.h>
#include <rapidjson/reader.h>

#include <algorithm>
#include <utility>

namespace json {
namespace {

// Builds the tree from SAX events. `open_` holds the unfinished containers, outermost first.
class Builder {
 public:
  explicit Builder(const Limits& limits) : limits_(limits) {}

  bool Null() { return add({}); }
  bool Bool(bool b) { return add(b); }
  bool RawNumber(const char* s, rapidjson::SizeType n, bool) { return add(Value::decimal({s, n})); }
  bool String(const char* s, rapidjson::SizeType n, bool) { return add(std::string_view(s, n)); }
  bool Key(const char* s, rapidjson::SizeType n, bool) {
    open_.back().next_name.assign(s, n);
    return true;
  }
  bool StartObject() { return open(true); }
  bool StartArray() { return open(false); }
  bool EndObject(rapidjson::SizeType) { return close(); }
  bool EndArray(rapidjson::SizeType) { return close(); }

  // Never called: numbers arrive as RawNumber.
  bool Int(int) { return false; }
  bool Uint(unsigned) { return false; }
  bool Int64(std::int64_t) { return false; }
  bool Uint64(std::uint64_t) { return false; }
  bool Double(double) { return false; }

  Value take() { return std::move(root_); }
  const std::string& stopped() const { return stopped_; }

 private:
  struct Frame {
    bool is_object;
    std::string next_name;
    std::vector<Value> items;
    std::vector<Member> members;
  };

  bool open(bool is_object) {
    if (std::cmp_greater_equal(open_.size(), limits_.depth)) return stop("nested deeper than " + std::to_string(limits_.depth));
    open_.push_back({is_object, {}, {}, {}});
    return true;
  }

  bool close() {
    Frame frame = std::move(open_.back());
    open_.pop_back();
    return add(frame.is_object ? Value::object_of(std::move(frame.members)) : Value::array(std::move(frame.items)));
  }

  bool add(Value value) {
    if (open_.empty()) {
      root_ = std::move(value);
    } else if (Frame& top = open_.back(); top.is_object) {
      top.members.push_back({std::exchange(top.next_name, {}), std::move(value)});
    } else {
      top.items.push_back(std::move(value));
    }
    return ++values_ <= limits_.values || stop("more than " + std::to_string(limits_.values) + " values");
  }

  bool stop(std::string why) {
    stopped_ = std::move(why);
    return false;
  }

  Limits limits_;
  std::vector<Frame> open_;
  Value root_;
  std::string stopped_;
  std::size_t values_ = 0;
};

Fault fault_at(std::string_view text, std::size_t offset, std::string why, bool too_large) {
  const auto before = text.substr(0, std::min(offset, text.size()));
  const auto line_start = before.rfind('\n');
  Fault fault{.offset = offset, .too_large = too_large, .text = std::move(why)};
  fault.line = 1 + static_cast<int>(std::ranges::count(before, '\n'));
  fault.column = 1 + static_cast<int>(line_start == std::string_view::npos ? before.size() : before.size() - line_start - 1);
  return fault;
}

void collect_repeated(const Value& value, const std::string& path, std::vector<std::string>& found) {
  for (std::size_t i = 0; i < value.items().size(); ++i) collect_repeated(value.at(i), path + "[" + std::to_string(i) + "]", found);
  std::vector<std::string_view> names;
  for (const auto& [name, child] : value.members()) {
    names.push_back(name);
    if (child.is_array() || child.is_object()) collect_repeated(child, path.empty() ? name : path + "." + name, found);
  }
  std::ranges::sort(names);
  for (auto it = names.begin(); (it = std::adjacent_find(it, names.end())) != names.end();) {
    found.push_back(path.empty() ? std::string(*it) : path + "." + std::string(*it));
    it = std::upper_bound(it, names.end(), *it);
  }
}

}  // namespace

boost::system::result<Value, Fault> parse(std::string_view text, const Limits& limits) {
  if (text.size() > limits.bytes) return fault_at(text, 0, "larger than " + std::to_string(limits.bytes) + " bytes", true);
  constexpr std::string_view mark = "\xEF\xBB\xBF";
  const std::size_t start = text.starts_with(mark) ? mark.size() : 0;
  constexpr unsigned flags = rapidjson::kParseNumbersAsStringsFlag | rapidjson::kParseIterativeFlag | rapidjson::kParseValidateEncodingFlag;

  rapidjson::MemoryStream stream(text.data() + start, text.size() - start);
  rapidjson::Reader reader;
  Builder builder(limits);
  const auto outcome = reader.Parse<flags>(stream, builder);
  const bool limited = !builder.stopped().empty();
  if (outcome.IsError()) {
    return fault_at(text, start + outcome.Offset(), limited ? builder.stopped() : rapidjson::GetParseError_En(outcome.Code()), limited);
  }
  // RapidJSON takes a NUL byte for the end of the text.
  if (stream.Tell() != text.size() - start) return fault_at(text, start + stream.Tell(), "A NUL byte after the value.", false);
  return builder.take();
}

std::vector<std::string> repeated_members(const Value& value) {
  std::vector<std::string> found;
  collect_repeated(value, "", found);
  return found;
}

}  // namespace json
