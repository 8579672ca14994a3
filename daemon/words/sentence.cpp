#include "words/sentence.h"

#include <fmt/format.h>

#include <cctype>
#include <optional>
#include <utility>

namespace words {
namespace {

std::optional<Format> format_named(std::string_view name) {
  if (name == "up") return Format::up;
  if (name == "date") return Format::date;
  if (name == "min") return Format::min;
  return std::nullopt;
}

bool is_name(std::string_view name) {
  if (name.empty() || std::isalpha(static_cast<unsigned char>(name[0])) == 0) return false;
  for (const char c : name.substr(1))
    if (!(c >= 'a' && c <= 'z') && !(c >= '0' && c <= '9') && c != '-' && c != '_') return false;
  return true;
}

std::variant<Slot, std::string> parse_slot(std::string_view inside) {
  const auto colon = inside.find(':');
  Slot slot{std::string{inside.substr(0, colon)}, Format::plain, false};
  if (!is_name(slot.name)) return fmt::format("'{{{}}}' names no argument", inside);
  if (colon != std::string_view::npos) {
    const auto format = format_named(inside.substr(colon + 1));
    if (!format) return fmt::format("'{{{}}}' has an unknown format; there are up, date and min", inside);
    slot.format = *format;
  }
  slot.capital = std::isupper(static_cast<unsigned char>(slot.name[0])) != 0;
  slot.name[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(slot.name[0])));
  return slot;
}

}  // namespace

ParsedSentence parse_sentence(std::string_view text) {
  ParsedSentence parsed;
  std::string plain;
  const auto end_plain = [&] {
    if (!plain.empty()) parsed.pieces.emplace_back(std::exchange(plain, {}));
  };
  while (!text.empty()) {
    const auto brace = text.find('{');
    plain += text.substr(0, brace);
    if (brace == std::string_view::npos) break;
    text.remove_prefix(brace + 1);
    if (text.starts_with('{')) {
      plain += '{';
      text.remove_prefix(1);
      continue;
    }
    const auto close = text.find('}');
    if (close == std::string_view::npos) return {{}, "a '{' is not closed"};
    auto slot = parse_slot(text.substr(0, close));
    if (auto* fault = std::get_if<std::string>(&slot)) return {{}, *fault};
    end_plain();
    parsed.pieces.emplace_back(std::get<Slot>(std::move(slot)));
    text.remove_prefix(close + 1);
  }
  end_plain();
  return parsed;
}

}  // namespace words
