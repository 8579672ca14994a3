#include "json/sax.h"
#include "json/tree.h"

#include <algorithm>
#include <utility>

namespace json {
namespace {

// Builds the tree from SAX events. `open_` holds the unfinished containers, outermost first.
class Builder : public Counting {
 public:
  explicit Builder(const Limits& limits) : Counting(limits) {}

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

  Value take() { return std::move(root_); }

 private:
  struct Frame {
    bool is_object;
    std::string next_name;
    std::vector<Value> items;
    std::vector<Member> members;
  };

  bool open(bool is_object) {
    if (!may_open(open_.size())) return false;
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
    return count();
  }

  std::vector<Frame> open_;
  Value root_;
};

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
  Builder builder(limits);
  if (auto fault = run(text, limits, builder)) return std::move(*fault);
  return builder.take();
}

std::vector<std::string> repeated_members(const Value& value) {
  std::vector<std::string> found;
  collect_repeated(value, "", found);
  return found;
}

}  // namespace json
