#include "fhir/units.h"

#include "fhir/codes.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <span>
#include <vector>

namespace fhir {
namespace {

struct Row {
  QuantityKind kind;
  std::string_view code;
  Ratio factor;
};

using K = QuantityKind;

// UCUM definitions (ucum-essence): [lb_av] = 453.59237 g, [in_i] = 2.54 cm, m[Hg] = 133.322 kPa.
constexpr Row kUnits[] = {
    {K::seconds, "s", {1, 1}}, {K::seconds, "ms", {1, 1000}}, {K::seconds, "min", {60, 1}}, {K::seconds, "h", {3600, 1}},
    {K::seconds, "d", {86400, 1}},
    {K::kilograms, "kg", {1, 1}}, {K::kilograms, "g", {1, 1000}}, {K::kilograms, "[lb_av]", {45359237, 100000000}},
    {K::centimetres, "cm", {1, 1}}, {K::centimetres, "m", {100, 1}}, {K::centimetres, "mm", {1, 10}},
    {K::centimetres, "[in_i]", {254, 100}},
    {K::french, "[Ch]", {1, 1}}, {K::french, "mm", {3, 1}}, {K::french, "cm", {30, 1}},
    {K::millimetres_mercury, "mm[Hg]", {1, 1}}, {K::millimetres_mercury, "kPa", {1'000'000, 133'322}},
    {K::millimetres_mercury, "Pa", {1'000, 133'322}},
    {K::haemoglobin, "g/dL", {1, 1}}, {K::haemoglobin, "g/L", {1, 10}}, {K::haemoglobin, "mg/dL", {1, 1000}},
    {K::fibrinogen, "g/L", {1, 1}}, {K::fibrinogen, "mg/dL", {1, 100}}, {K::fibrinogen, "g/dL", {10, 1}},
    {K::creatinine, "mg/dL", {1, 1}}, {K::creatinine, "umol/L", {10, 884}}, {K::creatinine, "mmol/L", {10000, 884}},
    {K::creatinine, "mg/L", {1, 10}},
    {K::bilirubin, "mg/dL", {1, 1}}, {K::bilirubin, "umol/L", {10, 171}},
    {K::cells, "10*9/L", {1, 1}}, {K::cells, "10*3/uL", {1, 1}}, {K::cells, "/uL", {1, 1000}}, {K::cells, "10*6/L", {1, 1000}},
    {K::cells, "/mm3", {1, 1000}}, {K::cells, "10*3/mm3", {1, 1}},
    {K::anti_xa, "[iU]/mL", {1, 1}}, {K::anti_xa, "[IU]/mL", {1, 1}}, {K::anti_xa, "k[iU]/L", {1, 1}}, {K::anti_xa, "[iU]/L", {1, 1000}},
    {K::enzyme, "U/L", {1, 1}}, {K::enzyme, "[iU]/L", {1, 1}}, {K::enzyme, "ukat/L", {60, 1}},
    {K::inr, "{INR}", {1, 1}}, {K::inr, "1", {1, 1}}, {K::inr, "{ratio}", {1, 1}},
    {K::per_minute, "/min", {1, 1}}, {K::per_minute, "{beats}/min", {1, 1}},
    {K::percent, "%", {1, 1}},
    {K::celsius, "Cel", {1, 1}},
    {K::millilitres, "mL", {1, 1}}, {K::millilitres, "L", {1000, 1}},
    {K::international_units, "[iU]", {1, 1}}, {K::international_units, "[IU]", {1, 1}}, {K::international_units, "k[iU]", {1000, 1}},
    {K::milligrams, "mg", {1, 1}}, {K::milligrams, "g", {1000, 1}}, {K::milligrams, "ug", {1, 1000}}, {K::milligrams, "ng", {1, 1'000'000}},
    {K::milligrams, "kg", {1'000'000, 1}},
};

struct Alias {
  K kind;
  std::string_view text;  // lower case where case does not matter
  std::string_view code;
};

// Spellings met in feeds, compared without regard to case. Not UCUM; each holds for one kind of quantity only.
constexpr Alias kAliases[] = {
    {K::seconds, "sec", "s"}, {K::seconds, "secs", "s"}, {K::seconds, "second", "s"}, {K::seconds, "seconds", "s"},
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
    {K::cells, "cells/ul", "/uL"}, {K::cells, "thousand/ul", "10*3/uL"},
    {K::anti_xa, "iu/ml", "[iU]/mL"}, {K::anti_xa, "u/ml", "[iU]/mL"}, {K::anti_xa, "ie/ml", "[iU]/mL"}, {K::anti_xa, "units/ml", "[iU]/mL"},
    {K::anti_xa, "iu/l", "[iU]/L"}, {K::anti_xa, "kiu/l", "k[iU]/L"},
    {K::enzyme, "iu/l", "U/L"}, {K::enzyme, "units/l", "U/L"}, {K::enzyme, "µkat/l", "ukat/L"}, {K::enzyme, "μkat/l", "ukat/L"},
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

const Row* exact_row(std::string_view code, K kind) {
  const auto it = std::ranges::find_if(kUnits, [&](const Row& r) { return r.kind == kind && r.code == code; });
  return it == std::end(kUnits) ? nullptr : &*it;
}

// An alias, or the one UCUM code that differs in case alone. Where two codes differ only in case there is none ("Mg" is not "mg").
const Row* alias_row(std::string_view text, K kind) {
  const auto low = lower(text);
  const auto alias = std::ranges::find_if(kAliases, [&](const Alias& a) { return a.kind == kind && (a.text == low || a.text == text); });
  if (alias != std::end(kAliases)) return exact_row(alias->code, kind);
  // Only units with a litre or a pressure in them are met in other case ("mmol/l", "g/dl", "MM[HG]").
  if (low.find("/l") == std::string::npos && low.find("/dl") == std::string::npos && low.find("/ul") == std::string::npos &&
      low.find("/ml") == std::string::npos && low.find("[hg]") == std::string::npos) {
    return nullptr;
  }
  const auto it = std::ranges::find_if(kUnits, [&](const Row& r) { return r.kind == kind && lower(r.code) == low; });
  return it == std::end(kUnits) ? nullptr : &*it;
}

std::vector<std::string_view> split_slashes(std::string_view text) {
  std::vector<std::string_view> parts;
  for (std::size_t start = 0; start <= text.size();) {
    const auto end = std::min(text.find('/', start), text.size());
    parts.push_back(trimmed(text.substr(start, end - start)));
    start = end + 1;
  }
  return parts;
}

bool set_amount(std::string_view text, bool units_mean_international, DrugUnit& out) {
  if (const auto mass = find_unit(text, K::milligrams)) {
    out = {DrugUnit::Amount::milligrams, mass->factor, false, false, mass->alias};
  } else if (const auto iu = find_unit(text, K::international_units)) {
    out = {DrugUnit::Amount::international_units, iu->factor, false, false, iu->alias};
  } else if (units_mean_international && std::ranges::find(kBareUnits, lower(text)) != kBareUnits.end()) {
    out = {DrugUnit::Amount::international_units, {1, 1}, false, false, true};
  } else if (lower(text) == "ml") {
    out = {DrugUnit::Amount::millilitres, {1, 1}, false, false, false};
  } else {
    return false;
  }
  return true;
}

}  // namespace

boost::system::result<KnownUnit, UnitFault> find_unit(std::string_view unit, QuantityKind kind) {
  unit = trimmed(unit);
  if (unit.empty()) return UnitFault::no_unit;
  if (const Row* row = exact_row(unit, kind)) return KnownUnit{row->factor, false};
  if (const Row* row = alias_row(unit, kind)) return KnownUnit{row->factor, true};
  return UnitFault::unknown_unit;
}

std::string_view unit_of(const json::Value& quantity) {
  const bool ucum = canonical_system(quantity["system"].text()) == system_uri::ucum;
  const auto code = quantity["code"].text();
  return ucum && !code.empty() ? code : quantity["unit"].text();
}

boost::system::result<Converted, UnitFault> convert(const json::Value& quantity, QuantityKind kind) {
  const auto value = Decimal::parse(quantity["value"].digits());
  if (!value) return UnitFault::out_of_range;
  const auto named = unit_of(quantity);
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
  for (const auto part : std::span(parts).subspan(1)) {
    if (!out.per_kg && !out.per_time && lower(part) == "kg") {
      out.per_kg = true;
    } else if (const auto time = find_unit(part, K::seconds); time && !out.per_time) {
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
