#include "fhir_read/values.h"

#include "fhir_read/typography.h"

#include <algorithm>
#include <utility>

namespace fhir_read {
namespace {

std::optional<clinical::Comparator> comparator_of(std::string_view text) {
  using C = clinical::Comparator;
  if (text.empty()) return C::none;
  if (text == "<") return C::less;
  if (text == "<=") return C::at_most;
  if (text == ">=") return C::at_least;
  if (text == ">") return C::greater;
  return std::nullopt;
}

std::string describe(fhir::UnitFault fault, const json::Value& quantity) {
  const std::string text = "\"" + written(quantity) + "\"";
  switch (fault) {
    case fhir::UnitFault::no_unit: return text + " has no unit; the value is not used.";
    case fhir::UnitFault::unknown_unit: return text + " has a unit that does not fit; the value is not used.";
    case fhir::UnitFault::disagreeing_units: return text + " carries a unit code and a unit text that disagree; the value is not used.";
    case fhir::UnitFault::out_of_range: return text + " is no usable number.";
  }
  return text;
}

}  // namespace

std::string written(const json::Value& quantity) {
  std::string text(quantity["comparator"].text());
  text += quantity["value"].is_number() ? quantity["value"].digits() : quantity["value"].text();
  const auto shown_unit = quantity["unit"].text();
  const auto unit = shown_unit.empty() ? quantity["code"].text() : shown_unit;
  const bool annotation = unit.starts_with('{') && unit.ends_with('}');  // "{INR}": a remark, no unit
  if (!unit.empty() && !annotation) text += " " + std::string(unit);
  return text;
}

std::optional<clinical::Value> value_of(const json::Value& quantity, fhir::QuantityKind kind, const Resource& r, std::string_view path, Reading& reading) {
  if (!quantity.is_object()) return std::nullopt;
  if (!quantity["value"].is_number()) {
    reading.warn(r, path, "no-number", "\"" + written(quantity) + "\" has no number; the value is not used.");
    return std::nullopt;
  }
  const auto converted = fhir::convert(quantity, kind);
  if (!converted) {
    reading.error(r, path, fhir::word(converted.error()), describe(converted.error(), quantity));
    return std::nullopt;
  }
  const auto comparator = comparator_of(quantity["comparator"].text());
  if (!comparator || converted->amount.value < 0) {
    reading.error(r, path, "out-of-range", "\"" + written(quantity) + "\" is no usable value.");
    return std::nullopt;
  }
  if (converted->alias) reading.inform(r, path, "unit-alias", "\"" + written(quantity) + "\": the unit is no UCUM code; it was taken for what it is meant to be.");
  return clinical::Value{converted->amount.value, *comparator, written(quantity)};
}

namespace {

std::string_view without_spaces(std::string_view text) {
  while (text.starts_with(' ') || text.starts_with('\t')) text.remove_prefix(1);
  while (text.ends_with(' ') || text.ends_with('\t')) text.remove_suffix(1);
  return text;
}

// Takes the comparator off; "" where there is none.
std::string_view take_comparator(std::string_view& text) {
  constexpr std::pair<std::string_view, std::string_view> written_as[] = {{"<=", "<="}, {">=", ">="}, {"=<", "<="}, {"=>", ">="}, {"\u2264", "<="}, {"\u2265", ">="}, {"<", "<"}, {">", ">"}};
  for (const auto& [form, comparator] : written_as) {
    if (!text.starts_with(form)) continue;
    text = without_spaces(text.substr(form.size()));
    return comparator;
  }
  return {};
}

}  // namespace

json::Value quantity_in(std::string_view recorded) {
  const auto set = plain(recorded);
  auto text = without_spaces(set);
  const auto comparator = take_comparator(text);
  const auto end = std::min(text.find_first_not_of("0123456789.,"), text.size());
  std::string number(text.substr(0, end));
  const auto unit = without_spaces(text.substr(end));
  if (const auto mark = number.find_first_of(".,"); mark != std::string::npos) {
    const bool thousands = number.size() - mark == 4 && !number.starts_with('0');
    if (thousands) return {};
    number[mark] = '.';
  }
  if (!json::is_number_text(number) || unit.empty()) return {};
  return json::Value::object({{"comparator", json::Value(comparator)}, {"value", json::Value::decimal(number)}, {"unit", json::Value(unit)}});
}

std::optional<clinical::Value> simple_value_of(const json::Value& quantity, fhir::QuantityKind kind, const Resource& r, std::string_view path, Reading& reading) {
  if (quantity.has("comparator")) {
    reading.error(r, path, "comparator", "\"" + written(quantity) + "\": a comparator is not allowed here; the number is not used.");
    return std::nullopt;
  }
  return value_of(quantity, kind, r, path, reading);
}

std::string code_value(const json::Value& element, std::string_view system, const Reading& reading) {
  if (const auto code = element["valueCode"].text(); !code.empty()) return std::string(code);
  const auto& coded = element["valueCodeableConcept"];
  if (!system.empty()) {
    if (auto code = code_in(coded, system, reading); !code.empty()) return code;
  }
  if (system.empty() || coded["coding"].size() == 0) {
    if (const auto code = coded["coding"].at(0)["code"].text(); !code.empty()) return std::string(code);
    if (const auto text = coded["text"].text(); !text.empty()) return std::string(text);
  }
  if (const auto code = element["valueCoding"]["code"].text(); !code.empty()) return std::string(code);
  return std::string(element["valueString"].text());
}

}  // namespace fhir_read
