#include "fhir/decimal.h"

#include "json/tree.h"

#include <boost/multiprecision/cpp_int.hpp>

#include <algorithm>
#include <charconv>

namespace fhir {
namespace {

using boost::multiprecision::cpp_int;

constexpr std::int64_t kMillionthPlaces = 6;
constexpr std::size_t kLongestExponent = 6;

// 10^power; `power` has been bounded by the caller.
cpp_int power_of_ten(std::int64_t power) { return boost::multiprecision::pow(cpp_int(10), static_cast<unsigned>(power)); }

std::strong_ordering compare_magnitude(const std::string& a, std::int64_t a_exponent, const std::string& b, std::int64_t b_exponent) {
  const auto a_order = static_cast<std::int64_t>(a.size()) + a_exponent;
  const auto b_order = static_cast<std::int64_t>(b.size()) + b_exponent;
  if (a_order != b_order) return a_order <=> b_order;
  // Same place of the first digit, no trailing zeros: text order is numeric order.
  return a <=> b;
}

}  // namespace

std::optional<Decimal> Decimal::parse(std::string_view written) {
  if (!json::is_number_text(written)) return std::nullopt;
  Decimal d;
  d.written_ = written;
  const auto e = std::min(written.find_first_of("eE"), written.size());
  std::string_view mantissa = written.substr(0, e);
  if (e < written.size()) {
    std::string_view exponent = written.substr(e + 1);
    if (exponent.starts_with('+')) exponent.remove_prefix(1);
    if (exponent.size() > kLongestExponent + (exponent.starts_with('-') ? 1 : 0)) return std::nullopt;
    std::from_chars(exponent.data(), exponent.data() + exponent.size(), d.exponent_);
  }
  d.negative_ = mantissa.starts_with('-');
  if (d.negative_) mantissa.remove_prefix(1);
  const auto point = mantissa.find('.');
  if (point != std::string_view::npos) d.exponent_ -= static_cast<std::int64_t>(mantissa.size() - point - 1);
  std::ranges::copy_if(mantissa, std::back_inserter(d.digits_), [](char c) { return c != '.'; });
  d.digits_.erase(0, d.digits_.find_first_not_of('0'));
  while (d.digits_.ends_with('0')) {
    d.digits_.pop_back();
    ++d.exponent_;
  }
  if (d.digits_.empty()) {
    d.negative_ = false;
    d.exponent_ = 0;
  }
  return d;
}

std::optional<Millionths> Decimal::millionths(Ratio factor) const {
  if (is_zero()) return Millionths{};
  const auto order = static_cast<std::int64_t>(digits_.size()) + exponent_;
  constexpr std::int64_t out_of_reach = 40;  // a factor moves the value by at most 10^19
  if (order > out_of_reach) return std::nullopt;
  if (order < -out_of_reach) return Millionths{0, true};

  const auto shift = exponent_ + kMillionthPlaces;
  cpp_int num = cpp_int(digits_) * factor.num * (shift > 0 ? power_of_ten(shift) : cpp_int(1));
  const cpp_int den = cpp_int(factor.den) * (shift < 0 ? power_of_ten(-shift) : cpp_int(1));
  cpp_int quotient;
  cpp_int rest;
  boost::multiprecision::divide_qr(num, den, quotient, rest);
  if (rest * 2 >= den) ++quotient;
  if (quotient > cpp_int(INT64_MAX)) return std::nullopt;
  const auto magnitude = static_cast<std::int64_t>(quotient);
  return Millionths{negative_ ? -magnitude : magnitude, rest != 0};
}

std::strong_ordering operator<=>(const Decimal& a, const Decimal& b) {
  const auto sign = [](const Decimal& d) { return d.is_zero() ? 0 : d.negative_ ? -1 : 1; };
  if (const auto order = sign(a) <=> sign(b); order != 0 || a.is_zero()) return order;
  return a.negative_ ? compare_magnitude(b.digits_, b.exponent_, a.digits_, a.exponent_)
                     : compare_magnitude(a.digits_, a.exponent_, b.digits_, b.exponent_);
}

std::string shortest(std::int64_t millionths) {
  const std::uint64_t magnitude = millionths < 0 ? 0 - static_cast<std::uint64_t>(millionths) : static_cast<std::uint64_t>(millionths);
  std::string text = (millionths < 0 ? "-" : "") + std::to_string(magnitude / 1'000'000);
  if (const auto fraction = magnitude % 1'000'000; fraction != 0) {
    const auto digits = std::to_string(fraction);
    text += "." + std::string(6 - digits.size(), '0') + digits;
    text.erase(text.find_last_not_of('0') + 1);
  }
  return text;
}

}  // namespace fhir
