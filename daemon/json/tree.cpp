#include "json/tree.h"

#include <algorithm>
#include <charconv>
#include <stdexcept>

namespace json {
namespace {

const Value& shared_null() {
  static const Value null;
  return null;
}

std::string_view skip_digits(std::string_view& rest) {
  const auto end = std::min(rest.find_first_not_of("0123456789"), rest.size());
  const auto run = rest.substr(0, end);
  rest.remove_prefix(end);
  return run;
}

}  // namespace

Value::Value() = default;
Value::Value(const Value&) = default;
Value::Value(Value&&) noexcept = default;
Value& Value::operator=(const Value&) = default;
Value& Value::operator=(Value&&) noexcept = default;
Value::~Value() = default;

Value::Value(bool b) : data_(b) {}
Value::Value(const char* text) : data_(std::string(text)) {}
Value::Value(std::string_view text) : data_(std::string(text)) {}
Value::Value(std::string text) : data_(std::move(text)) {}
Value::Value(NumberText number) : data_(std::move(number)) {}

Value Value::decimal(std::string_view digits) {
  if (!is_number_text(digits)) throw std::invalid_argument("not a JSON number: " + std::string(digits));
  return Value(NumberText{std::string(digits)});
}

Value Value::array(std::vector<Value> items) {
  Value v;
  v.data_ = std::move(items);
  return v;
}

Value Value::object(std::initializer_list<Member> members) {
  Value v;
  v.data_ = std::vector<Member>(members);
  return v;
}

Value Value::object_of(std::vector<Member> members) {
  Value v;
  v.data_ = std::move(members);
  return v;
}

std::optional<bool> Value::boolean() const noexcept {
  if (const bool* b = std::get_if<bool>(&data_)) return *b;
  return std::nullopt;
}

std::string_view Value::text() const noexcept {
  const auto* s = std::get_if<std::string>(&data_);
  return s ? std::string_view(*s) : std::string_view();
}

std::string_view Value::digits() const noexcept {
  const auto* n = std::get_if<NumberText>(&data_);
  return n ? std::string_view(n->digits) : std::string_view();
}

std::optional<std::int64_t> Value::integer() const noexcept {
  const auto written = digits();
  std::int64_t i = 0;
  const auto [end, error] = std::from_chars(written.data(), written.data() + written.size(), i);
  if (written.empty() || error != std::errc{} || end != written.data() + written.size()) return std::nullopt;
  return i;
}

std::span<const Value> Value::items() const noexcept {
  const auto* a = std::get_if<std::vector<Value>>(&data_);
  return a ? std::span<const Value>(*a) : std::span<const Value>();
}

std::span<const Member> Value::members() const noexcept {
  const auto* o = std::get_if<std::vector<Member>>(&data_);
  return o ? std::span<const Member>(*o) : std::span<const Member>();
}

std::span<Value> Value::items() noexcept {
  auto* a = std::get_if<std::vector<Value>>(&data_);
  return a ? std::span<Value>(*a) : std::span<Value>();
}

std::span<Member> Value::members() noexcept {
  auto* o = std::get_if<std::vector<Member>>(&data_);
  return o ? std::span<Member>(*o) : std::span<Member>();
}

std::size_t Value::size() const noexcept { return is_array() ? items().size() : members().size(); }

const Value* Value::find(std::string_view name) const noexcept {
  const auto all = members();
  const auto it = std::ranges::find(all, name, &Member::name);
  return it == all.end() ? nullptr : &it->value;
}

Value* Value::find(std::string_view name) noexcept { return const_cast<Value*>(std::as_const(*this).find(name)); }

const Value& Value::operator[](std::string_view name) const noexcept {
  const Value* v = find(name);
  return v ? *v : shared_null();
}

const Value& Value::at(std::size_t index) const noexcept { return index < items().size() ? items()[index] : shared_null(); }

Value& Value::set(std::string_view name, Value value) {
  if (is_null()) data_ = std::vector<Member>();
  if (!is_object()) throw std::logic_error("set on a JSON value that is no object");
  if (Value* old = find(name)) {
    *old = std::move(value);
  } else {
    std::get<std::vector<Member>>(data_).push_back({std::string(name), std::move(value)});
  }
  return *this;
}

Value& Value::set_present(std::string_view name, Value value) {
  const bool container = value.is_array() || value.is_object();
  const bool empty = value.is_null() || (value.is_string() && value.text().empty()) || (container && value.size() == 0);
  return empty ? *this : set(name, std::move(value));
}

Value& Value::push(Value value) {
  if (is_null()) data_ = std::vector<Value>();
  if (!is_array()) throw std::logic_error("push on a JSON value that is no array");
  std::get<std::vector<Value>>(data_).push_back(std::move(value));
  return *this;
}

bool Value::erase(std::string_view name) {
  auto* o = std::get_if<std::vector<Member>>(&data_);
  return o && std::erase_if(*o, [&](const Member& m) { return m.name == name; }) > 0;
}

bool operator==(const Value& a, const Value& b) { return a.data_ == b.data_; }

bool is_number_text(std::string_view rest) noexcept {
  if (rest.starts_with('-')) rest.remove_prefix(1);
  const auto whole = skip_digits(rest);
  if (whole.empty() || (whole.size() > 1 && whole.front() == '0')) return false;
  if (rest.starts_with('.')) {
    rest.remove_prefix(1);
    if (skip_digits(rest).empty()) return false;
  }
  if (rest.starts_with('e') || rest.starts_with('E')) {
    rest.remove_prefix(1);
    if (rest.starts_with('+') || rest.starts_with('-')) rest.remove_prefix(1);
    if (skip_digits(rest).empty()) return false;
  }
  return rest.empty();
}

}  // namespace json
