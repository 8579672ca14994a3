#include "clinical/quantity.h"

#include "clinical/names.h"

namespace clinical {
namespace {

std::string_view unit_for_people(SettingUnit unit) {
  switch (unit) {
    case SettingUnit::mmhg: return "mmHg";
    case SettingUnit::per_minute: return "/min";
    case SettingUnit::ratio:
    case SettingUnit::count: return "";
    case SettingUnit::per_nanolitre: return "x 10^9/L";
    case SettingUnit::french: return "F";
    case SettingUnit::year: return "years";
    case SettingUnit::kilogram_per_square_metre: return "kg/m2";
    case SettingUnit::unit_per_kilogram: return "U/kg";
    case SettingUnit::international_unit: return "U";
    case SettingUnit::celsius: return "Cel";
    default: return name_of(unit);
  }
}

}  // namespace

std::string digits_of(Micro micro) {
  const auto magnitude = micro < 0 ? 0 - static_cast<std::uint64_t>(micro) : static_cast<std::uint64_t>(micro);
  std::string text = (micro < 0 ? "-" : "") + std::to_string(magnitude / kMicro);
  if (magnitude % kMicro == 0) return text;
  const std::string fraction = std::to_string(kMicro + static_cast<Micro>(magnitude % kMicro));  // with a leading 1, so that no zero is lost
  return text + "." + fraction.substr(1, fraction.find_last_not_of('0'));
}

Value computed(Micro micro, std::string_view unit) {
  std::string text = digits_of(micro);
  if (!unit.empty()) text += unit.front() == '/' ? std::string(unit) : " " + std::string(unit);
  return {micro, Comparator::none, std::move(text)};
}

Value as_value(const Setting& setting) { return computed(setting.micro, unit_for_people(setting.unit)); }

bool surely_at_most(const Value& value, Micro limit) {
  switch (value.comparator) {
    case Comparator::none:
    case Comparator::at_most:
    case Comparator::less: return value.micro <= limit;
    default: return false;
  }
}

bool surely_above(const Value& value, Micro limit) {
  switch (value.comparator) {
    case Comparator::none:
    case Comparator::at_least: return value.micro > limit;
    case Comparator::greater: return value.micro >= limit;
    default: return false;
  }
}

}  // namespace clinical
