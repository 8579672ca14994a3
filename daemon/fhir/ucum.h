// Terms of UCUM (https://ucum.org/ucum, chapter 2) as exact factors over base dimensions: the part of it that laboratory, dose and vital sign
// feeds use. Special units (temperatures, logarithms) and atoms outside the table are none.
#pragma once

#include "fhir/decimal.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

namespace fhir {

// Exponents of decimetre (a litre is its cube), second, gram, mole and international unit. Unlike in UCUM itself a mole is a dimension of its own, so that no number of
// cells is ever read as an amount of substance; as in UCUM an international unit converts into nothing else.
struct Dimensions {
  std::array<std::int8_t, 5> exponents{};
  friend bool operator==(const Dimensions&, const Dimensions&) = default;
};

struct UcumUnit {
  Ratio factor;  // times 10^tens: into dm, s, g, mol, [iU]
  int tens = 0;
  Dimensions of;
};

// nullopt: no term, an unknown atom, or a factor out of reach. Case-sensitive, as UCUM codes are in FHIR.
std::optional<UcumUnit> parse_ucum(std::string_view term);

// How many of `b` one `a` is; nullopt where they measure different things, or the factor does not fit 64 bits over 64 bits.
std::optional<Ratio> factor_between(const UcumUnit& a, const UcumUnit& b);

}  // namespace fhir
