#include "fhir/ucum.h"

#include <algorithm>
#include <limits>
#include <numeric>

namespace fhir {
namespace {

constexpr int kDepth = 8;         // parentheses in parentheses
constexpr int kLargestPower = 15; // of an exponent; 10*15 still fits

struct Atom {
  std::string_view code;
  bool metric;
  Ratio factor;
  std::array<std::int8_t, 5> of;  // dm, s, g, mol, [iU]
};

// Definitions of ucum-essence 2.1. [lb_av] = 7000 grains of 64.79891 mg; [in_i] = 2.54 cm; m[Hg] = 133.322 kPa; m[H2O] = 9.80665 kPa.
constexpr Atom kAtoms[] = {
    {"m", true, {10, 1}, {1}}, {"s", true, {1, 1}, {0, 1}}, {"g", true, {1, 1}, {0, 0, 1}}, {"mol", true, {1, 1}, {0, 0, 0, 1}},
    {"[iU]", true, {1, 1}, {0, 0, 0, 0, 1}}, {"[IU]", true, {1, 1}, {0, 0, 0, 0, 1}},
    {"l", true, {1, 1}, {3}}, {"L", true, {1, 1}, {3}},
    {"min", false, {60, 1}, {0, 1}}, {"h", false, {3600, 1}, {0, 1}}, {"d", false, {86400, 1}, {0, 1}}, {"wk", false, {604800, 1}, {0, 1}},
    {"[in_i]", false, {254, 1000}, {1}}, {"[ft_i]", false, {3048, 1000}, {1}},
    {"[lb_av]", false, {45359237, 100000}, {0, 0, 1}}, {"[oz_av]", false, {45359237, 1600000}, {0, 0, 1}}, {"[gr]", false, {6479891, 100000000}, {0, 0, 1}},
    {"t", true, {1000000, 1}, {0, 0, 1}}, {"g%", true, {10, 1}, {-3, 0, 1}},
    {"Hz", true, {1, 1}, {0, -1}}, {"N", true, {10000, 1}, {1, -2, 1}}, {"Pa", true, {100, 1}, {-1, -2, 1}}, {"bar", true, {10000000, 1}, {-1, -2, 1}},
    {"atm", false, {10132500, 1}, {-1, -2, 1}}, {"m[Hg]", true, {13332200, 1}, {-1, -2, 1}}, {"m[H2O]", true, {980665, 1}, {-1, -2, 1}},
    {"kat", true, {1, 1}, {0, -1, 0, 1}}, {"U", true, {1, 60000000}, {0, -1, 0, 1}}, {"eq", true, {1, 1}, {0, 0, 0, 1}},
    {"%", false, {1, 100}, {}}};

struct Prefix {
  std::string_view code;
  int tens;
};
// No prefix over kilo: nothing here is measured so, and "Mg", "Ms" or "GL" in a feed are slips of the shift key.
constexpr Prefix kPrefixes[] = {{"da", 1}, {"k", 3}, {"h", 2}, {"d", -1}, {"c", -2}, {"m", -3}, {"u", -6}, {"n", -9}, {"p", -12}, {"f", -15}};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

__extension__ using Wide = __int128;  // no ISO type is wide enough for a product of two factors

std::optional<Ratio> reduced(Wide num, Wide den) {
  Wide a = num, b = den;
  while (b != 0) {
    const Wide rest = a % b;
    a = b;
    b = rest;
  }
  num /= a;
  den /= a;
  constexpr Wide most = std::numeric_limits<std::int64_t>::max();
  if (num > most || den > most) return std::nullopt;
  return Ratio{static_cast<std::int64_t>(num), static_cast<std::int64_t>(den)};
}

std::optional<Ratio> product(Ratio a, Ratio b) { return reduced(Wide{a.num} * b.num, Wide{a.den} * b.den); }

std::optional<UcumUnit> times(const UcumUnit& a, const UcumUnit& b, int sign) {
  const auto factor = product(a.factor, sign > 0 ? b.factor : Ratio{b.factor.den, b.factor.num});
  if (!factor) return std::nullopt;
  UcumUnit result{*factor, a.tens + sign * b.tens, a.of};
  for (std::size_t i = 0; i < result.of.exponents.size(); ++i) {
    const int sum = a.of.exponents[i] + sign * b.of.exponents[i];
    if (sum < -60 || sum > 60) return std::nullopt;
    result.of.exponents[i] = static_cast<std::int8_t>(sum);
  }
  return result;
}

std::optional<UcumUnit> power(const UcumUnit& unit, int exponent) {
  std::optional<UcumUnit> result = UcumUnit{};
  for (int i = 0; i < (exponent < 0 ? -exponent : exponent) && result; ++i) result = times(*result, unit, exponent < 0 ? -1 : 1);
  return result;
}

std::optional<UcumUnit> atom_named(std::string_view code) {
  const auto* plain = std::ranges::find(kAtoms, code, &Atom::code);
  if (plain != std::end(kAtoms)) return UcumUnit{plain->factor, 0, {plain->of}};
  for (const auto& [prefix, tens] : kPrefixes) {
    if (!code.starts_with(prefix)) continue;
    const auto* rest = std::ranges::find(kAtoms, code.substr(prefix.size()), &Atom::code);
    if (rest == std::end(kAtoms) || !rest->metric) continue;
    return UcumUnit{rest->factor, tens, {rest->of}};
  }
  return std::nullopt;
}

class Parser {
 public:
  explicit Parser(std::string_view text) : text_(text) {}

  std::optional<UcumUnit> whole() {
    auto unit = term(0);
    return unit && at_ == text_.size() ? unit : std::nullopt;
  }

 private:
  bool take(char c) {
    if (at_ >= text_.size() || text_[at_] != c) return false;
    ++at_;
    return true;
  }

  // component { ("." | "/") component }, from left to right; a term may begin with "/".
  std::optional<UcumUnit> term(int depth) {
    std::optional<UcumUnit> unit = UcumUnit{};
    int sign = take('/') ? -1 : 1;
    do {
      const auto next = component(depth);
      if (!next || !(unit = times(*unit, *next, sign))) return std::nullopt;
      sign = 0;
      if (take('.')) sign = 1;
      else if (take('/')) sign = -1;
    } while (sign != 0);
    return unit;
  }

  std::optional<UcumUnit> component(int depth) {
    if (take('(')) {
      const auto inner = depth < kDepth ? term(depth + 1) : std::nullopt;
      return inner && take(')') ? inner : std::nullopt;
    }
    if (at_ < text_.size() && text_[at_] == '{') return annotation() ? std::optional(UcumUnit{}) : std::nullopt;
    auto unit = annotatable();
    if (unit && at_ < text_.size() && text_[at_] == '{' && !annotation()) return std::nullopt;
    return unit;
  }

  bool annotation() {
    const auto end = text_.find('}', at_);
    if (end == std::string_view::npos) return false;
    const auto inside = text_.substr(at_ + 1, end - at_ - 1);
    if (std::ranges::any_of(inside, [](char c) { return c == '{' || c < '!' || c > '~'; })) return false;  // no blank, nothing beyond ASCII
    at_ = end + 1;
    return true;
  }

  // A whole number, a power of ten, or an atom with prefix and exponent.
  std::optional<UcumUnit> annotatable() {
    const auto rest = text_.substr(at_);
    if (rest.starts_with("10*") || rest.starts_with("10^")) {
      at_ += 3;
      return UcumUnit{{}, exponent().value_or(1), {}};
    }
    if (!rest.empty() && is_digit(rest.front())) return number();
    std::size_t end = 0;
    for (bool in_brackets = false; end < rest.size(); ++end) {
      const char c = rest[end];
      if (c == '[') in_brackets = true;
      if (c == ']') in_brackets = false;
      const bool ends_code = c == '.' || c == '/' || c == '(' || c == ')' || c == '{' || c == '+' || c == '-' || is_digit(c);
      if (!in_brackets && ends_code) break;
    }
    const auto unit = atom_named(rest.substr(0, end));
    if (!unit) return std::nullopt;
    at_ += end;
    const bool has_exponent = at_ < text_.size() && (text_[at_] == '+' || text_[at_] == '-' || is_digit(text_[at_]));
    const auto exponent_read = exponent();
    if (has_exponent && !exponent_read) return std::nullopt;
    return power(*unit, exponent_read.value_or(1));
  }

  std::optional<UcumUnit> number() {
    std::int64_t value = 0;
    for (; at_ < text_.size() && is_digit(text_[at_]); ++at_) {
      if (value > 100'000'000'000'000) return std::nullopt;
      value = value * 10 + (text_[at_] - '0');
    }
    return value > 0 ? std::optional(UcumUnit{{value, 1}, 0, {}}) : std::nullopt;
  }

  std::optional<int> exponent() {
    const auto before = at_;
    const int sign = take('-') ? -1 : (take('+'), 1);
    int value = 0;
    bool any = false;
    for (; at_ < text_.size() && is_digit(text_[at_]) && value <= kLargestPower; ++at_, any = true) value = value * 10 + (text_[at_] - '0');
    if (any && value <= kLargestPower) return sign * value;
    at_ = before;
    return std::nullopt;
  }

  std::string_view text_;
  std::size_t at_ = 0;
};

}  // namespace

std::optional<Ratio> factor_between(const UcumUnit& a, const UcumUnit& b) {
  if (!(a.of == b.of)) return std::nullopt;
  const auto ratio = product(a.factor, {b.factor.den, b.factor.num});
  const int tens = a.tens - b.tens;
  constexpr int most = 18;  // of 64 bits
  if (!ratio || tens > most || tens < -most) return std::nullopt;
  Wide num = ratio->num, den = ratio->den;
  for (int i = 0; i < tens; ++i) num *= 10;
  for (int i = 0; i > tens; --i) den *= 10;
  return reduced(num, den);
}

std::optional<UcumUnit> parse_ucum(std::string_view term) {
  constexpr std::size_t longest = 64;
  if (term.empty() || term.size() > longest) return std::nullopt;
  return Parser(term).whole();
}

}  // namespace fhir
