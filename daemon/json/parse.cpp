#include "json/sax.h"
#include "json/tree.h"

#include <algorithm>
#include <array>
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

 protected:
  struct Frame {
    bool is_object;
    std::string next_name;
    std::vector<Value> items;
    std::vector<Member> members;
  };

  const std::vector<Frame>& frames() const { return open_; }
  Frame& innermost() { return open_.back(); }

 private:
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

constexpr std::array<std::string_view, 5> kSpared{"resourceType", "id", "meta", "subject", "patient"};

bool is_spared(std::string_view name) { return std::ranges::find(kSpared, name) != kSpared.end(); }

// Leaves out what is not wanted of the resources in entries. Such an object is `dull` from the moment its type is known.
class SparingBuilder : public Builder {
 public:
  SparingBuilder(const Limits& limits, const std::function<bool(std::string_view)>& wanted) : Builder(limits), wanted_(wanted) {}

  bool Null() { return drops() ? dropped() : Builder::Null(); }
  bool Bool(bool b) { return drops() ? dropped() : Builder::Bool(b); }
  bool RawNumber(const char* s, rapidjson::SizeType n, bool copy) { return drops() ? dropped() : Builder::RawNumber(s, n, copy); }
  bool String(const char* s, rapidjson::SizeType n, bool copy) {
    if (drops()) return dropped();
    const bool is_type = dull_ == 0 && in_resource() && innermost().next_name == "resourceType" && !says_type(innermost());
    if (is_type && !wanted_({s, n})) dull_ = frames().size();
    return Builder::String(s, n, copy);
  }
  bool Key(const char* s, rapidjson::SizeType n, bool copy) {
    if (unbuilt_ > 0) return true;
    if (dull_ != 0 && frames().size() == dull_ && !is_spared({s, n})) return skips_ = true;
    return Builder::Key(s, n, copy);
  }
  bool StartObject() { return drops() ? drop_open() : Builder::StartObject(); }
  bool StartArray() { return drops() ? drop_open() : Builder::StartArray(); }
  bool EndObject(rapidjson::SizeType n) {
    if (unbuilt_ > 0) return drop_close();
    if (frames().size() == dull_) {
      std::erase_if(innermost().members, [](const Member& member) { return !is_spared(member.name); });  // what came before its type
      dull_ = 0;
    }
    return Builder::EndObject(n);
  }
  bool EndArray(rapidjson::SizeType n) { return unbuilt_ > 0 ? drop_close() : Builder::EndArray(n); }

 private:
  // The innermost object is the "resource" of an "entry".
  bool in_resource() const {
    const auto& all = frames();
    const auto depth = all.size();
    return depth >= 4 && all[depth - 1].is_object && all[depth - 2].is_object && all[depth - 2].next_name == "resource" && !all[depth - 3].is_object && all[depth - 4].is_object && all[depth - 4].next_name == "entry";
  }
  static bool says_type(const Frame& frame) { return std::ranges::find(frame.members, "resourceType", &Member::name) != frame.members.end(); }

  bool drops() const { return unbuilt_ > 0 || skips_; }
  bool dropped() {
    if (unbuilt_ == 0) skips_ = false;
    return count();
  }
  bool drop_open() {
    if (!may_open(frames().size() + unbuilt_)) return false;
    ++unbuilt_;
    return true;
  }
  bool drop_close() {
    if (--unbuilt_ == 0) skips_ = false;
    return count();
  }

  const std::function<bool(std::string_view)>& wanted_;
  std::size_t dull_ = 0;     // how many containers were open when the object that is not wanted was; 0: none is
  std::size_t unbuilt_ = 0;  // containers open inside what is left out
  bool skips_ = false;       // the value that comes next, or is under way, is left out
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

boost::system::result<Value, Fault> parse_sparing(std::string_view text, const std::function<bool(std::string_view)>& wanted, const Limits& limits) {
  SparingBuilder builder(limits, wanted);
  if (auto fault = run(text, limits, builder)) return std::move(*fault);
  return builder.take();
}

std::vector<std::string> repeated_members(const Value& value) {
  std::vector<std::string> found;
  collect_repeated(value, "", found);
  return found;
}

}  // namespace json
