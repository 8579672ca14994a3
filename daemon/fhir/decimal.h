// Decimals as FHIR writes them: exact, with the written digits kept; never through binary floating point.
#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace fhir {

// An exact positive factor; den > 0.
struct Ratio {
  std::int64_t num = 1;
  std::int64_t den = 1;
  friend bool operator==(const Ratio&, const Ratio&) = default;
};

// Millionths of a unit. `rounded`: the exact value lies between two millionths; half goes away from zero.
struct Millionths {
  std::int64_t value = 0;
  bool rounded = false;
  friend bool operator==(const Millionths&, const Millionths&) = default;
};

class Decimal {
 public:
  // A JSON number ("1.50", "1E-22"). nullopt for anything else and for exponents of more than six digits.
  static std::optional<Decimal> parse(std::string_view written);

  const std::string& written() const { return written_; }
  bool negative() const { return negative_; }
  bool is_zero() const { return digits_.empty(); }

  // This value times `factor` in millionths; nullopt when it does not fit 64 bits.
  std::optional<Millionths> millionths(Ratio factor = {}) const;

  // By value: 1.0 and 1.00 and 10E-1 are equal.
  friend std::strong_ordering operator<=>(const Decimal& a, const Decimal& b);
  friend bool operator==(const Decimal& a, const Decimal& b) { return (a <=> b) == std::strong_ordering::equal; }

 private:
  std::string written_;
  std::string digits_;         // without leading or trailing zeros; empty for zero
  std::int64_t exponent_ = 0;  // value = digits * 10^exponent
  bool negative_ = false;
};

// Millionths as the shortest JSON number: 150, 1.5, -0.25.
std::string shortest(std::int64_t millionths);

}  // namespace fhir
