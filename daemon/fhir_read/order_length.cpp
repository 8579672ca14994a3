#include "fhir_read/order_length.h"

#include "fhir_read/values.h"

#include <algorithm>

namespace fhir_read {
namespace {

using clinical::minutes;

constexpr minutes kLongest{7 * 24 * 60};  // beyond, something else was meant

minutes minutes_of(clinical::Micro seconds) {
  constexpr clinical::Micro a_minute = 60 * clinical::kMicro;
  return minutes{(seconds + a_minute - 1) / a_minute};
}

Length bounded(minutes length) { return length > minutes{0} && length <= kLongest ? Length(length) : std::nullopt; }

Length length_in_words(const std::string& number, const std::string& unit) {
  if (number.size() > 5 || !std::ranges::all_of(number, [](char c) { return c >= '0' && c <= '9'; })) return std::nullopt;
  const auto count = std::stol(number);
  const auto is = [&](std::initializer_list<std::string_view> words) { return std::ranges::find(words, unit) != words.end(); };
  if (is({"h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden", "heure", "heures", "hora", "horas", "godz", "godzina", "godzinę", "godziny", "godzin", "stdn", "ساعة", "ساعات"})) return bounded(minutes{count * 60});
  if (is({"min", "mins", "minute", "minutes", "minuten", "minutos", "minut", "minuty"})) return bounded(minutes{count});
  return is({"d", "day", "days", "tag", "tage", "tagen", "jour", "jours", "día", "días", "dzień", "dni", "dzien"}) ? bounded(minutes{count * 24 * 60}) : std::nullopt;
}

// "6h" -> "6", "h"
std::vector<std::string> apart(std::string_view text) {
  std::vector<std::string> parts;
  for (const auto& word : words_of(text)) {
    const auto letters = word.find_first_not_of("0123456789");
    if (letters == 0 || letters == std::string::npos) {
      parts.push_back(word);
    } else {
      parts.push_back(word.substr(0, letters));
      parts.push_back(word.substr(letters));
    }
  }
  return parts;
}

// "for 10.5 h" -> "for 11 h"
std::string with_fractions_rounded_up(std::string_view text) {
  const auto is_digit = [&](std::size_t at) { return at < text.size() && text[at] >= '0' && text[at] <= '9'; };
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    auto end = at;
    while (is_digit(end)) ++end;
    if (end == at) {
      out += text[at++];
      continue;
    }
    std::string whole(text.substr(at, end - at));
    at = end;
    if (at < text.size() && (text[at] == '.' || text[at] == ',') && is_digit(at + 1)) {
      do ++at;
      while (is_digit(at));
      if (whole.size() <= 4) whole = std::to_string(std::stol(whole) + 1);
    }
    out += whole;
  }
  return out;
}

}  // namespace

Length length_of(const json::Value& quantity, const Resource& r, std::string_view path, Reading& reading) {
  const auto value = simple_value_of(quantity, fhir::QuantityKind::seconds, r, path, reading);
  return value ? bounded(minutes_of(value->micro)) : std::nullopt;
}

Length length_of_repeat(const json::Value& repeat) {
  Length longest_said;
  for (const auto* name : {"duration", "durationMax"}) {
    const auto number = fhir::Decimal::parse(repeat[name].digits());
    const auto unit = fhir::find_unit(repeat["durationUnit"].text(), fhir::QuantityKind::seconds);
    const auto micro = number && unit && !number->negative() ? number->millionths(unit->factor) : std::nullopt;
    if (micro) longest_said = longest({longest_said, bounded(minutes_of(micro->value))});
  }
  return longest_said;
}

// "10.5 h" and "10,5 h" are eleven hours; "18.30 h" may be a time, and stays at thirty: what is written with a point is never made shorter.
Length longest_in(std::string_view text) {
  Length found;
  for (const auto& said : {std::string(text), with_fractions_rounded_up(text)}) {
    const auto parts = apart(said);
    for (std::size_t i = 1; i < parts.size(); ++i) found = longest({found, length_in_words(parts[i - 1], parts[i])});
  }
  return found;
}

Length longest(std::initializer_list<Length> lengths) { return std::max(lengths); }

}  // namespace fhir_read
