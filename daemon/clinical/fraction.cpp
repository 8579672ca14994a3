#include "clinical/fraction.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace clinical {

double fraction_left(seconds since, seconds half_life) {
  if (since <= seconds{0}) return 1;
  return std::exp2(-static_cast<double>(since.count()) / static_cast<double>(half_life.count()));
}

double amount_at(const std::vector<Input>& inputs, seconds half_life, Instant at) {
  const double k = std::numbers::ln2 / static_cast<double>(half_life.count());
  double sum = 0;
  for (const auto& input : inputs) {
    if (input.start > at) continue;
    const auto length = static_cast<double>((input.end - input.start).count());
    if (length <= 0) {
      sum += input.amount * fraction_left(at - input.start, half_life);
      continue;
    }
    const Instant until = std::min(input.end, at);
    const auto lasted = static_cast<double>((until - input.start).count());
    sum += input.amount / length / k * -std::expm1(-k * lasted) * fraction_left(at - until, half_life);
  }
  return sum;
}

}  // namespace clinical
