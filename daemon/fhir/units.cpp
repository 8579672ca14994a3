#include "fhir/units.h"

#include "fhir/codes.h"
#include "fhir/ucum.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <span>
#include <vector>

namespace fhir {
namespace {

using K = QuantityKind;

// Kinds that are any UCUM term of one dimension: the unit that their numbers are turned into.
struct Measure {
  QuantityKind kind;
  std::string_view unit;
  Ratio into;  // of one `unit`, where another than the kind's own stands here
};
constexpr Measure kMeasures[] = {
    {K::seconds, "s", {}}, {K::kilograms, "kg", {}}, {K::centimetres, "cm", {}}, {K::millimetres_mercury, "mm[Hg]", {}}, {K::haemoglobin, "g/dL", {}}, {K::haemoglobin, "mmol/L", {16114, 10000}},
    {K::fibrinogen, "g/L", {}}, {K::creatinine, "mg/dL", {}}, {K::creatinine, "umol/L", {10, 884}}, {K::bilirubin, "mg/dL", {}}, {K::bilirubin, "umol/L", {10, 171}},
    {K::cells, "10*9/L", {}}, {K::anti_xa, "[iU]/mL", {}}, {K::enzyme, "U/L", {}}, {K::per_minute, "/min", {}}, {K::millilitres, "mL", {}},
    {K::international_units, "[iU]", {}}, {K::milligrams, "mg", {}}};

// Kinds that know these codes and no others: in UCUM a percentage, a ratio and a bare number are one dimension, and an INR is no Quick value.
// French: 1/3 mm as sheaths are sized.
struct Row {
  QuantityKind kind;
  std::string_view code;
  Ratio factor;
};
constexpr Row kCodes[] = {{K::french, "[Ch]", {1, 1}}, {K::french, "mm", {3, 1}}, {K::french, "cm", {30, 1}}, {K::inr, "{INR}", {1, 1}}, {K::inr, "1", {1, 1}},
                          {K::inr, "{ratio}", {1, 1}}, {K::percent, "%", {1, 1}}, {K::celsius, "Cel", {1, 1}}};

// Codes that are met in the wrong case ("MM[HG]", "G/DL"): only units with a litre or a pressure in them.
constexpr std::string_view kMetInOtherCase[] = {"mm[Hg]",  "g/dL",   "g/L",    "mg/dL",   "umol/L", "mmol/L", "mg/L",   "10*9/L", "10*3/uL", "/uL",
                                                "10*6/L",  "[iU]/mL", "k[iU]/L", "[iU]/L", "U/L",    "ukat/L", "10*3/mm3"};

struct Alias {
  K kind;
  std::string_view text;  // lower case where case does not matter
  std::string_view code;
};

// Spellings met in feeds, compared without regard to case. Not UCUM; each holds for one kind of quantity only.
constexpr Alias kAliases[] = {
    {K::seconds, "sec", "s"}, {K::seconds, "secs", "s"}, {K::seconds, "second", "s"}, {K::seconds, "seconds", "s"},
    {K::seconds, "sek", "s"}, {K::seconds, "sek.", "s"}, {K::seconds, "sekunde", "s"}, {K::seconds, "sekunden", "s"}, {K::seconds, "seconde", "s"}, {K::seconds, "secondes", "s"},
    {K::seconds, "segundo", "s"}, {K::seconds, "segundos", "s"}, {K::seconds, "sekunda", "s"}, {K::seconds, "sekundy", "s"}, {K::seconds, "sekund", "s"}, {K::seconds, "seg", "s"},
    {K::seconds, "msec", "ms"}, {K::seconds, "mins", "min"}, {K::seconds, "minutes", "min"}, {K::seconds, "minute", "min"},
    {K::seconds, "hr", "h"}, {K::seconds, "hours", "h"}, {K::seconds, "hour", "h"}, {K::seconds, "day", "d"}, {K::seconds, "days", "d"},
    {K::kilograms, "kgs", "kg"}, {K::kilograms, "kilograms", "kg"}, {K::kilograms, "lb", "[lb_av]"}, {K::kilograms, "lbs", "[lb_av]"},
    {K::centimetres, "in", "[in_i]"}, {K::centimetres, "inches", "[in_i]"},
    {K::french, "fr", "[Ch]"}, {K::french, "f", "[Ch]"}, {K::french, "french", "[Ch]"}, {K::french, "ch", "[Ch]"},
    {K::millimetres_mercury, "mmhg", "mm[Hg]"}, {K::millimetres_mercury, "mm hg", "mm[Hg]"}, {K::millimetres_mercury, "mm(hg)", "mm[Hg]"},
    {K::creatinine, "µmol/l", "umol/L"}, {K::creatinine, "μmol/l", "umol/L"},
    {K::bilirubin, "µmol/l", "umol/L"}, {K::bilirubin, "μmol/l", "umol/L"},
    {K::cells, "k/ul", "10*3/uL"}, {K::cells, "x10e3/ul", "10*3/uL"}, {K::cells, "10e3/ul", "10*3/uL"}, {K::cells, "10^3/ul", "10*3/uL"},
    {K::cells, "x10^3/ul", "10*3/uL"}, {K::cells, "10^9/l", "10*9/L"}, {K::cells, "x10*9/l", "10*9/L"}, {K::cells, "x10^9/l", "10*9/L"},
    {K::cells, "x10e9/l", "10*9/L"}, {K::cells, "G/l", "10*9/L"}, {K::cells, "G/L", "10*9/L"}, {K::cells, "gpt/l", "10*9/L"}, {K::cells, "/µl", "/uL"},
    {K::cells, "cells/ul", "/uL"}, {K::cells, "thousand/ul", "10*3/uL"}, {K::cells, "tsd/µl", "10*3/uL"}, {K::cells, "tsd/μl", "10*3/uL"}, {K::cells, "tsd/ul", "10*3/uL"},
    {K::cells, "tsd./µl", "10*3/uL"}, {K::cells, "tsd./μl", "10*3/uL"}, {K::cells, "tsd./ul", "10*3/uL"}, {K::cells, "tys/µl", "10*3/uL"}, {K::cells, "tys/μl", "10*3/uL"}, {K::cells, "tys/ul", "10*3/uL"},
    {K::cells, "tys./µl", "10*3/uL"}, {K::cells, "tys./μl", "10*3/uL"}, {K::cells, "tys./ul", "10*3/uL"}, {K::cells, "10^3/µl", "10*3/uL"}, {K::cells, "10^3/μl", "10*3/uL"},
    {K::cells, "10^3/mm3", "10*3/mm3"}, {K::cells, "/mm3", "/mm3"},
    {K::anti_xa, "iu/ml", "[iU]/mL"}, {K::anti_xa, "u/ml", "[iU]/mL"}, {K::anti_xa, "ie/ml", "[iU]/mL"}, {K::anti_xa, "units/ml", "[iU]/mL"},
    {K::anti_xa, "iu/l", "[iU]/L"}, {K::anti_xa, "kiu/l", "k[iU]/L"},
    {K::enzyme, "iu/l", "U/L"}, {K::enzyme, "[iu]/l", "U/L"}, {K::enzyme, "units/l", "U/L"}, {K::enzyme, "µkat/l", "ukat/L"}, {K::enzyme, "μkat/l", "ukat/L"},
    {K::inr, "inr", "{INR}"}, {K::inr, "ratio", "{ratio}"}, {K::inr, "{inr'}", "{INR}"},
    {K::per_minute, "bpm", "/min"}, {K::per_minute, "beats/min", "/min"}, {K::per_minute, "1/min", "/min"}, {K::per_minute, "beats/minute", "/min"},
    {K::per_minute, "{beats}/min", "/min"}, {K::per_minute, "min-1", "/min"},
    {K::percent, "percent", "%"},
    {K::milligrams, "mcg", "ug"}, {K::milligrams, "µg", "ug"}, {K::milligrams, "μg", "ug"}, {K::milligrams, "gm", "g"},
    {K::international_units, "iu", "[iU]"}, {K::international_units, "i.u.", "[iU]"}, {K::international_units, "ie", "[iU]"},
    {K::international_units, "i.e.", "[iU]"},
};

// Spellings of international units that are right only for heparins: in UCUM "U" is an enzyme unit.
constexpr std::array<std::string_view, 8> kBareUnits{"u", "unit", "units", "unt", "usp'u", "[usp'u]", "usp units", "e"};

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

std::string_view trimmed(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

const std::vector<std::pair<Measure, UcumUnit>>& own_units() {
  static const auto all = [] {
    std::vector<std::pair<Measure, UcumUnit>> parsed;
    for (const auto& measure : kMeasures) parsed.emplace_back(measure, parse_ucum(measure.unit).value());
    return parsed;
  }();
  return all;
}

// Both are small: a factor between two units of one kind, and a convention of the laboratory.
std::optional<Ratio> times(Ratio a, Ratio b) {
  constexpr std::int64_t most = 1'000'000'000'000'000;
  if (b == Ratio{}) return a;
  if (a.num > most / b.num || a.den > most / b.den) return std::nullopt;
  return Ratio{a.num * b.num, a.den * b.den};
}

std::optional<Ratio> factor_of(std::string_view code, K kind) {
  for (const auto& row : kCodes)
    if (row.kind == kind && row.code == code) return row.factor;
  const auto unit = parse_ucum(code);
  if (!unit) return std::nullopt;
  for (const auto& [measure, own] : own_units()) {
    const auto factor = measure.kind == kind ? factor_between(*unit, own) : std::nullopt;
    if (factor) return times(*factor, measure.into);
  }
  return std::nullopt;
}

// An alias, or a code that differs in case alone.
std::optional<Ratio> alias_factor(std::string_view text, K kind) {
  const auto low = lower(text);
  for (const auto& alias : kAliases)
    if (alias.kind == kind && (alias.text == low || alias.text == text)) return factor_of(alias.code, kind);
  for (const auto code : kMetInOtherCase)
    if (lower(code) == low)
      if (const auto factor = factor_of(code, kind)) return factor;
  return std::nullopt;
}

// "U/kg/h" and "U/(kg.h)": the amount, then everything it is divided by.
std::vector<std::string_view> split_slashes(std::string_view text) {
  std::vector<std::string_view> parts;
  for (std::size_t start = 0; start <= text.size();) {
    const auto end = std::min(text.find('/', start), text.size());
    auto part = trimmed(text.substr(start, end - start));
    start = end + 1;
    if (parts.empty() || !part.starts_with('(') || !part.ends_with(')')) {
      parts.push_back(part);
      continue;
    }
    part = part.substr(1, part.size() - 2);
    for (std::size_t from = 0; from <= part.size();) {
      const auto dot = std::min(part.find('.', from), part.size());
      parts.push_back(part.substr(from, dot - from));
      from = dot + 1;
    }
  }
  return parts;
}

// "24" of "mL/(24.h)".
std::optional<std::int64_t> whole_number(std::string_view text) {
  if (text.empty() || text.size() > 4 || text.find_first_not_of("0123456789") != std::string_view::npos) return std::nullopt;
  const auto value = std::stoll(std::string(text));
  return value > 0 ? std::optional<std::int64_t>(value) : std::nullopt;
}

bool set_amount(std::string_view text, bool units_mean_international, DrugUnit& out) {
  if (const auto mass = find_unit(text, K::milligrams)) {
    out = {DrugUnit::Amount::milligrams, mass->factor, false, false, mass->alias};
  } else if (const auto iu = find_unit(text, K::international_units)) {
    out = {DrugUnit::Amount::international_units, iu->factor, false, false, iu->alias};
  } else if (units_mean_international && std::ranges::find(kBareUnits, lower(text)) != kBareUnits.end()) {
    out = {DrugUnit::Amount::international_units, {1, 1}, false, false, true};
  } else if (const auto volume = find_unit(lower(text) == "ml" ? "mL" : text, K::millilitres)) {
    out = {DrugUnit::Amount::millilitres, volume->factor, false, false, volume->alias};
  } else {
    return false;
  }
  return true;
}

}  // namespace

boost::system::result<KnownUnit, UnitFault> find_unit(std::string_view unit, QuantityKind kind) {
  unit = trimmed(unit);
  if (unit.empty()) return UnitFault::no_unit;
  if (const auto factor = factor_of(unit, kind)) return KnownUnit{*factor, false};
  if (const auto factor = alias_factor(unit, kind)) return KnownUnit{*factor, true};
  return UnitFault::unknown_unit;
}

std::string_view unit_of(const json::Value& quantity) {
  const bool ucum = canonical_system(quantity["system"].text()) == system_uri::ucum;
  const auto code = quantity["code"].text();
  return ucum && !code.empty() ? code : quantity["unit"].text();
}

namespace {

// Fahrenheit has an offset and so no factor: (F - 32) * 5 / 9.
bool is_fahrenheit(std::string_view unit) {
  const auto low = lower(trimmed(unit));
  return low == "[degf]" || low == "degf" || low == "\u00b0f";
}

boost::system::result<Converted, UnitFault> from_fahrenheit(const Decimal& value, bool alias) {
  const auto fahrenheit = value.millionths();
  if (!fahrenheit || fahrenheit->value > 1'000'000'000'000) return UnitFault::out_of_range;
  const auto ninths = (fahrenheit->value - 32'000'000) * 5;
  const auto half = ninths < 0 ? -4 : 4;
  return Converted{{(ninths + half) / 9, fahrenheit->rounded || ninths % 9 != 0}, alias};
}

}  // namespace

boost::system::result<Converted, UnitFault> convert(const json::Value& quantity, QuantityKind kind) {
  const auto value = Decimal::parse(quantity["value"].digits());
  if (!value) return UnitFault::out_of_range;
  const auto named = unit_of(quantity);
  if (kind == K::celsius && is_fahrenheit(named)) return from_fahrenheit(*value, trimmed(named) != "[degF]");
  auto unit = find_unit(named, kind);
  if (!unit && unit.error() == UnitFault::no_unit && kind == K::inr && !quantity.has("code")) unit = KnownUnit{{1, 1}, true};
  if (!unit) return unit.error();
  if (const auto shown = find_unit(quantity["unit"].text(), kind); shown && !(shown->factor == unit->factor)) {
    return UnitFault::disagreeing_units;
  }
  const auto amount = value->millionths(unit->factor);
  if (!amount) return UnitFault::out_of_range;
  return Converted{*amount, unit->alias};
}

boost::system::result<DrugUnit, UnitFault> find_drug_unit(std::string_view unit, bool units_mean_international) {
  unit = trimmed(unit);
  if (unit.empty()) return UnitFault::no_unit;
  const auto parts = split_slashes(unit);
  DrugUnit out;
  if (!set_amount(parts.front(), units_mean_international, out)) return UnitFault::unknown_unit;
  for (const auto part : std::span(parts).subspan(1)) {  // a dot here multiplies the whole: "mg/24.h" is no amount per day
    if (!out.per_kg && !out.per_time && lower(part) == "kg") {
      out.per_kg = true;
    } else if (const auto count = whole_number(part)) {
      out.factor.den *= *count;
    } else if (const auto time = find_unit(part, K::seconds); time && !out.per_time && part.find('.') == std::string_view::npos) {
      out.per_time = true;
      out.alias = out.alias || time->alias;
      out.factor = {out.factor.num * 3600 * time->factor.den, out.factor.den * time->factor.num};
    } else {
      return UnitFault::unknown_unit;
    }
  }
  return out;
}

const char* word(UnitFault fault) {
  switch (fault) {
    case UnitFault::no_unit: return "no-unit";
    case UnitFault::unknown_unit: return "unknown-unit";
    case UnitFault::disagreeing_units: return "disagreeing-units";
    case UnitFault::out_of_range: return "out-of-range";
  }
  return "";
}

}  // namespace fhir
