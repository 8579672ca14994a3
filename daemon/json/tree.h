// A JSON tree that keeps what the sender wrote: number digits, member order, unknown and repeated members.
// The only owner of RapidJSON. No FHIR in here.
#pragma once

#include <boost/system/result.hpp>

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <initializer_list>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace json {

enum class Kind : std::uint8_t { null, boolean, number, string, array, object };

struct Member;

// A value type: copies are deep. Reading never fails: an absent member reads as null, text() of a number as "".
// Strings are UTF-8 without validation on the building side; the parser validates. Not shared between threads while changed.
class Value {
 public:
  Value();  // null
  Value(const Value&);
  Value(Value&&) noexcept;
  Value& operator=(const Value&);
  Value& operator=(Value&&) noexcept;
  ~Value();

  Value(bool b);                // NOLINT(google-explicit-constructor): literals in builders
  Value(const char* text);      // NOLINT(google-explicit-constructor)
  Value(std::string_view text); // NOLINT(google-explicit-constructor)
  Value(std::string text);      // NOLINT(google-explicit-constructor)
  template <std::integral I>
    requires(!std::same_as<I, bool> && !std::same_as<I, char>)
  Value(I i) : Value(NumberText{std::to_string(i)}) {}  // NOLINT(google-explicit-constructor)

  // A number with exactly these digits. Throws std::invalid_argument when `digits` is no JSON number (programming error).
  static Value decimal(std::string_view digits);
  static Value array(std::vector<Value> items = {});
  static Value object(std::initializer_list<Member> members = {});
  static Value object_of(std::vector<Member> members);

  Kind kind() const noexcept { return static_cast<Kind>(data_.index()); }
  bool is_null() const noexcept { return kind() == Kind::null; }
  bool is_bool() const noexcept { return kind() == Kind::boolean; }
  bool is_number() const noexcept { return kind() == Kind::number; }
  bool is_string() const noexcept { return kind() == Kind::string; }
  bool is_array() const noexcept { return kind() == Kind::array; }
  bool is_object() const noexcept { return kind() == Kind::object; }

  std::optional<bool> boolean() const noexcept;
  std::string_view text() const noexcept;                    // "" unless a string
  std::string_view digits() const noexcept;                  // the number as written; "" unless a number
  std::optional<std::int64_t> integer() const noexcept;      // a number written as a plain integer that fits
  std::span<const Value> items() const noexcept;             // empty unless an array
  std::span<const Member> members() const noexcept;          // empty unless an object
  std::size_t size() const noexcept;                         // items or members, else 0

  // First member of that name; nullptr when absent or not an object. Valid until the tree is changed.
  const Value* find(std::string_view name) const noexcept;
  Value* find(std::string_view name) noexcept;
  bool has(std::string_view name) const noexcept { return find(name) != nullptr; }
  // As find, but a shared null in place of nullptr, so that v["dosage"]["dose"]["value"] always reads.
  const Value& operator[](std::string_view name) const noexcept;
  const Value& operator[](const char* name) const noexcept { return (*this)[std::string_view(name)]; }
  const Value& at(std::size_t index) const noexcept;  // shared null when out of range or not an array

  // Replaces the first member of that name, else appends. A null becomes an empty object first; any other kind throws std::logic_error.
  Value& set(std::string_view name, Value value);
  // As set, but null, "", [] and {} leave the tree unchanged (FHIR allows no empty elements).
  Value& set_present(std::string_view name, Value value);
  Value& push(Value value);  // null becomes an empty array; any other kind throws std::logic_error
  bool erase(std::string_view name);
  std::span<Value> items() noexcept;
  std::span<Member> members() noexcept;

  // Same kinds, digits as written (1.0 != 1.00), same order of members.
  friend bool operator==(const Value& a, const Value& b);

 private:
  struct NumberText {
    std::string digits;
    bool operator==(const NumberText&) const = default;
  };
  explicit Value(NumberText number);

  std::variant<std::monostate, bool, NumberText, std::string, std::vector<Value>, std::vector<Member>> data_;
};

struct Member {
  std::string name;
  Value value;
  friend bool operator==(const Member&, const Member&) = default;
};

struct Limits {
  std::size_t bytes = 32u << 20;
  int depth = 64;                   // nested arrays and objects
  std::size_t values = 2'000'000;   // values of every kind
};

// Where parsing stopped. Line and column count from 1, the column in bytes. too_large: a limit was met, the text may be sound JSON.
struct Fault {
  std::size_t offset = 0;
  int line = 1;
  int column = 1;
  bool too_large = false;
  std::string text;
};

// One JSON text, whole. A leading UTF-8 byte order mark is skipped. Iterative, so that depth costs no stack; encoding is validated.
// A number whose magnitude is over 1.8E308 is a fault. Repeated members are kept: see repeated_members.
boost::system::result<Value, Fault> parse(std::string_view text, const Limits& limits = {});

// As parse(), with the same faults, for a text of which a part is not wanted: of an object at "entry[].resource" (in such an object again, and so on) whose
// resourceType is a text that `wanted` says no to, only these members are kept: resourceType, id, meta, subject, patient. Where resourceType comes first the
// others are never built. An object without a resourceType is kept whole.
boost::system::result<Value, Fault> parse_sparing(std::string_view text, const std::function<bool(std::string_view type)>& wanted, const Limits& limits = {});

// Paths of members whose name occurs before in the same object ("entry[2].resource.status"). Empty for sound JSON.
std::vector<std::string> repeated_members(const Value& value);

// Deterministic: order of the tree, number digits as written, no trailing newline.
std::string write(const Value& value);
std::string write_pretty(const Value& value);  // indented by two spaces

// True when `digits` is a JSON number.
bool is_number_text(std::string_view digits) noexcept;

}  // namespace json
