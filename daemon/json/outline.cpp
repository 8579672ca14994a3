#include "json/outline.h"

#include "json/sax.h"

namespace json {
namespace {

// Keeps the path as far as it leads to one of the members, and their texts.
class Outliner : public Counting {
 public:
  explicit Outliner(const Limits& limits) : Counting(limits) {}

  bool Null() { return value(); }
  bool Bool(bool) { return value(); }
  bool RawNumber(const char*, rapidjson::SizeType, bool) { return value(); }
  bool String(const char* s, rapidjson::SizeType n, bool) {
    if (wanted_) wanted_->assign(s, n);
    return value();
  }
  bool Key(const char* s, rapidjson::SizeType n, bool) {
    const std::string_view name(s, n);
    wanted_ = nullptr;
    const bool at_root = depth_ == 1 && in_root_object_;
    if (at_root) meta_next_ = name == "meta" && !std::exchange(seen_[3], true);
    if (at_root && name == "resourceType" && !std::exchange(seen_[0], true)) wanted_ = &out_.resource_type;
    else if (at_root && name == "id" && !std::exchange(seen_[1], true)) wanted_ = &out_.id;
    else if (depth_ == 2 && in_meta_ && name == "versionId" && !std::exchange(seen_[2], true)) wanted_ = &out_.version_id;
    return true;
  }
  bool StartObject() { return open(true); }
  bool StartArray() { return open(false); }
  bool EndObject(rapidjson::SizeType) { return close(); }
  bool EndArray(rapidjson::SizeType) { return close(); }

  Outline take() { return std::move(out_); }

 private:
  bool open(bool is_object) {
    if (!may_open(depth_)) return false;
    if (depth_ == 0) in_root_object_ = is_object;
    if (depth_ == 1) in_meta_ = is_object && meta_next_;
    wanted_ = nullptr;
    ++depth_;
    return true;
  }
  bool close() {
    if (--depth_ == 1) in_meta_ = meta_next_ = false;
    return count();
  }
  bool value() {
    wanted_ = nullptr;
    if (depth_ == 1) meta_next_ = false;
    return count();
  }

  Outline out_;
  std::string* wanted_ = nullptr;   // where the next value goes, if it is a text
  std::size_t depth_ = 0;
  std::array<bool, 4> seen_{};      // resourceType, id, meta.versionId, meta: the first of each counts
  bool in_root_object_ = false, meta_next_ = false, in_meta_ = false;
};

}  // namespace

boost::system::result<Outline, Fault> outline(std::string_view text, const Limits& limits) {
  Outliner outliner(limits);
  if (auto fault = run(text, limits, outliner)) return std::move(*fault);
  return outliner.take();
}

std::string_view leading_type(std::string_view text) {
  const auto skip = [&] { text.remove_prefix(std::min(text.find_first_not_of(" \t\r\n"), text.size())); };
  const auto take = [&](std::string_view sign) {
    skip();
    if (!text.starts_with(sign)) return false;
    text.remove_prefix(sign.size());
    return true;
  };
  if (!take("{") || !take("\"resourceType\"") || !take(":") || !take("\"")) return {};
  const auto type = text.substr(0, text.find('"'));
  const bool plain = std::ranges::all_of(type, [](char c) { return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z'); });
  return plain && type.size() < text.size() ? type : std::string_view();
}

}  // namespace json
