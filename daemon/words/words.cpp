#include "words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <climits>
#include <clocale>
#include <cuchar>
#include <cwctype>
#include <mutex>
#include <optional>
#include <set>

#include "words/offset.h"
#include "words/plural.h"

namespace words {

struct Words::Absent {
  std::mutex mutex;
  std::set<std::string> names;
};

namespace {

// U+0590 to U+08FF, the scripts written from the right, begin with these bytes in UTF-8.
bool has_letters_from_the_right(std::string_view text) {
  for (std::size_t i = 0; i + 1 < text.size(); ++i) {
    const auto lead = static_cast<unsigned char>(text[i]), next = static_cast<unsigned char>(text[i + 1]);
    if ((lead == 0xD6 && next >= 0x90) || (lead >= 0xD7 && lead <= 0xDF) || (lead == 0xE0 && next >= 0xA0 && next <= 0xA3)) return true;
  }
  return false;
}

}  // namespace

Words::Words() : entries_(std::make_shared<Entries>()), absent_(std::make_shared<Absent>()) {}

const Words::Entry* Words::find(std::string_view table, std::string_view key) const {
  const auto found = entries_->find(fmt::format("{} {}", table, key));
  return found == entries_->end() ? nullptr : &found->second;
}

void Words::note(std::string what) const {
  const std::scoped_lock lock{absent_->mutex};
  absent_->names.insert(std::move(what));
}

std::vector<std::string> Words::missing() const {
  const std::scoped_lock lock{absent_->mutex};
  return {absent_->names.begin(), absent_->names.end()};
}

namespace {

// A sum across a change of the clock can only be followed where each of its times carries its offset, also one of the day before.
bool offsets_differ(const Arguments& arguments, const Context& context) {
  std::optional<clinical::seconds> first;
  for (const auto& [name, value] : arguments) {
    const auto* at = std::get_if<clinical::Instant>(&value);
    if (!at) continue;
    const auto offset = offset_at(*at, context.zone);
    if (first && *first != offset) return true;
    first = offset;
  }
  return false;
}

}  // namespace

std::string Words::filled(const std::vector<Piece>& pieces, std::string_view name, const Arguments& arguments, const Context& context) const {
  std::string out;
  const bool differ = offsets_differ(arguments, context);
  for (const Piece& piece : pieces) {
    if (const auto* plain = std::get_if<std::string>(&piece)) {
      out += *plain;
      continue;
    }
    const Slot& slot = std::get<Slot>(piece);
    const auto given = std::find_if(arguments.begin(), arguments.end(), [&](const auto& pair) { return pair.first == slot.name; });
    if (given == arguments.end()) {
      note(fmt::format("argument {} of {}", slot.name, name));
      out += fmt::format("[{}?]", slot.name);
      continue;
    }
    std::string said = argument(given->second, context, slot.format);
    if (const auto* at = std::get_if<clinical::Instant>(&given->second); differ && at && !offset_changes(local_day(*at, context.zone), context.zone))
      said += fmt::format(" ({})", offset_text(offset_at(*at, context.zone)));
    if (slot.capital) said = capital(std::move(said));
    out += apart(said);
  }
  return out;
}

std::string capital(std::string text) {
  // C.UTF-8 is part of the C library: no locale has to be installed, and the process's own stays as it is.
  static const locale_t utf8 = newlocale(LC_CTYPE_MASK, "C.UTF-8", nullptr);
  std::size_t size = 1;
  while (size < text.size() && (static_cast<unsigned char>(text[size]) & 0xC0) == 0x80) ++size;
  char32_t letter = 0;
  std::mbstate_t state{};
  const locale_t before = uselocale(utf8);
  const std::size_t read = text.empty() ? 0 : std::mbrtoc32(&letter, text.data(), size, &state);
  if (read == size) {
    char bytes[MB_LEN_MAX];
    state = {};
    const std::size_t written = std::c32rtomb(bytes, static_cast<char32_t>(std::towupper(static_cast<wint_t>(letter))), &state);
    if (written != static_cast<std::size_t>(-1)) text.replace(0, size, bytes, written);
  }
  uselocale(before);
  return text;
}

std::string Words::apart(const std::string& value) const {
  if (!right_to_left_ || value.empty()) return value;
  return (has_letters_from_the_right(value) ? "\u2067" : "\u2066") + value + "\u2069";
}

std::string Words::sentence(std::string_view table, std::string_view key, const Arguments& arguments, const Context& context) const {
  const std::string name = fmt::format("{} {}", table, key);
  if (const Entry* entry = find(table, key)) {
    const auto counted = std::find_if(arguments.begin(), arguments.end(), [](const auto& pair) { return pair.first == "n"; });
    const auto* n = counted == arguments.end() ? nullptr : std::get_if<std::int64_t>(&counted->second);
    auto form = n ? entry->forms.find(plural_form(language_, *n)) : entry->forms.end();
    if (form == entry->forms.end()) form = entry->forms.find("other");
    return filled(form->second, name, arguments, context);
  }
  note(name);
  std::string listed;
  for (const auto& [argument_name, value] : arguments)
    listed += fmt::format("{}{} {}", listed.empty() ? ": " : ", ", argument_name, argument(value, context));
  return fmt::format("[{}{}]", key, listed);
}

std::string Words::render(const clinical::Reason& reason, const Context& context) const {
  return reason.code.empty() ? std::string{} : sentence("reason", reason.code, reason.arguments, context);
}

std::string Words::text(std::string_view key, const Arguments& arguments, const Context& context) const {
  return sentence("text", key, arguments, context);
}
std::string Words::text(std::string_view key) const { return sentence("text", key, {}, {}); }

std::string Words::word(std::string_view table, std::string_view key, std::string_view fallback) const {
  if (const Entry* entry = find(table, key)) return filled(entry->forms.find("other")->second, key, {}, {});
  note(fmt::format("{} {}", table, key));
  return std::string{fallback};
}
std::string Words::label(std::string_view key) const { return word("label", key, fmt::format("[{}]", key)); }
std::string Words::term(std::string_view key) const { return word("term", key, key); }

}  // namespace words
