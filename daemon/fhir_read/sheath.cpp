#include "fhir_read/sheath.h"

#include "fhir_read/values.h"
#include "fhir_read/word_names.h"

#include <algorithm>

namespace fhir_read {
namespace {

// From the smallest introducer to the largest in use; beyond, a length or a mistake was read.
constexpr clinical::Micro kSmallest = clinical::whole(3);
constexpr clinical::Micro kLargest = clinical::whole(34);

struct SizeInText {
  clinical::Micro french;
  std::size_t from, to;
};

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

std::string lower(std::string_view text) {
  std::string out(text);
  std::ranges::transform(out, out.begin(), [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  return out;
}

// End of "F", "Fr", "French", "Ch" at `at`, after at most one blank or hyphen; npos when none stands there.
std::size_t end_of_unit(const std::string& text, std::size_t at) {
  if (at < text.size() && (text[at] == ' ' || text[at] == '-')) ++at;
  for (const std::string_view unit : {"french", "charriere", "fr", "ch", "f"}) {
    const auto end = at + unit.size();
    if (text.compare(at, unit.size(), unit) == 0 && (end == text.size() || (!is_letter(text[end]) && !is_digit(text[end])))) return end;
  }
  return std::string::npos;
}

std::vector<SizeInText> sizes_in(const std::string& text) {
  std::vector<SizeInText> sizes;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (!is_digit(text[i]) || (i > 0 && (is_digit(text[i - 1]) || is_letter(text[i - 1]) || text[i - 1] == '.' || text[i - 1] == ','))) continue;
    auto end = std::min(text.find_first_not_of("0123456789", i), text.size());
    if (end + 1 < text.size() && (text[end] == '.' || text[end] == ',') && is_digit(text[end + 1])) end = std::min(text.find_first_not_of("0123456789", end + 1), text.size());
    std::string digits = text.substr(i, end - i);
    std::ranges::replace(digits, ',', '.');
    const auto unit_end = end_of_unit(text, end);
    const auto number = fhir::Decimal::parse(digits);
    const auto french = number ? number->millionths() : std::nullopt;
    if (unit_end != std::string::npos && french && french->value >= kSmallest && french->value <= kLargest) sizes.push_back({french->value, i, unit_end});
  }
  return sizes;
}

bool names_sheath(std::string_view text, const Terminology& terms) { return meaning_by_name(text, terms.sheaths) != nullptr; }

// ---- Devices

bool is_sheath(const json::Value& device, const std::vector<std::string>& names, const Reading& reading) {
  const auto codes = codes_of_all(device["type"], reading);
  return meaning_by_code(codes, reading.terms.sheaths) || std::ranges::any_of(names, [&](const std::string& n) { return names_sheath(n, reading.terms); });
}

std::vector<std::string> names_of(const json::Value& device) {
  std::vector<std::string> names;
  const auto add = [&](std::string_view name) {
    if (!name.empty()) names.emplace_back(name);
  };
  for (const auto& name : device["deviceName"].items()) add(name["name"].text());
  for (const auto& name : device["name"].items()) add(name["value"].text());
  add(device["modelNumber"].text());
  for (const auto* type : list_of(device["type"])) {
    for (const auto& text : texts_of(*type)) add(text);
  }
  return names;
}

void add_size(clinical::Procedure& out, clinical::Micro french, clinical::Source source) {
  const bool known = std::ranges::any_of(out.french, [&](const auto& f) { return f.value == french && (!f.source.low_confidence || source.low_confidence); });
  if (!known) out.french.push_back({french, std::move(source)});
}

// Millimetres count as a diameter only where they can be one: a sheath has a length as well.
void add_property_sizes(const json::Value& device, const Resource& r, Reading& reading, clinical::Procedure& out, const clinical::Source& source) {
  for (const auto& property : device["property"].items()) {
    std::vector<const json::Value*> quantities = list_of(property["valueQuantity"]);
    for (const auto* quantity : quantities) {
      const auto size = fhir::convert(*quantity, fhir::QuantityKind::french);
      if (!size) continue;
      const bool length = has_phrase(words_of(title_of(property["type"])), {"length"});
      if (length || size->amount.value < kSmallest || size->amount.value > kLargest) {
        reading.inform(r, "usedReference", "no-size", "\"" + written(*quantity) + "\" of the sheath is no size in French.");
      } else {
        add_size(out, size->amount.value, source);
      }
    }
  }
}

clinical::Closure closure_of(const std::vector<Code>& codes, const std::vector<std::string>& names, const Reading& reading, bool& by_name) {
  if (const auto* closure = meaning_by_code(codes, reading.terms.closures)) return *closure;
  by_name = true;
  for (const auto& name : names) {
    if (const auto* closure = meaning_by_name(name, reading.terms.closures)) return *closure;
  }
  return clinical::Closure::unknown;
}

void add_closure(clinical::Procedure& out, clinical::Closure closure, const clinical::Source& source) {
  if (closure != clinical::Closure::unknown) out.closures.push_back({closure, source});
}

// What a Procedure used: Devices here and elsewhere, and, where only a name or a code came, that.
struct Used {
  json::Value device;  // null: not held
  std::vector<Code> codes;
  std::vector<std::string> names;
  clinical::Source source;
};

void add_used_reference(const json::Value& reference, const Resource& r, const Reading& reading, std::vector<Used>& used) {
  if (!reference.is_object()) return;
  const auto* device = reading.set.resolve(reference, r);
  if (!device) {
    used.push_back({{}, {}, {std::string(reference["display"].text())}, r.fact_source(true)});
    return;
  }
  if ((*device)["resourceType"].text() != "Device" || (*device)["status"].text() == "entered-in-error") return;
  const auto key = key_of(reference, r);
  clinical::Source source = key.empty() ? r.fact_source() : clinical::Source{key, std::string((*device)["meta"]["versionId"].text()), false};
  used.push_back({*device, codes_of_all((*device)["type"], reading), names_of(*device), std::move(source)});
}

std::vector<Used> used_devices(const json::Value& procedure, const Resource& r, const Reading& reading) {
  std::vector<Used> used;
  for (const auto* reference : list_of(procedure["usedReference"])) add_used_reference(*reference, r, reading, used);
  for (const auto& focal : procedure["focalDevice"].items()) add_used_reference(focal["manipulated"], r, reading, used);
  for (const auto& one : procedure["used"].items()) add_used_reference(one["reference"], r, reading, used);
  return used;
}

void read_device_sizes(const std::vector<Used>& used, const Resource& r, Reading& reading, clinical::Procedure& out) {
  for (const auto& one : used) {
    if (one.device.is_null()) {
      for (const auto& name : one.names) {
        for (const auto french : french_in(name, reading.terms, false)) add_size(out, french, one.source);
      }
    } else if (is_sheath(one.device, one.names, reading)) {
      add_property_sizes(one.device, r, reading, out, one.source);
      for (const auto& name : one.names) {
        for (const auto french : french_in(name, reading.terms, true)) add_size(out, french, one.source);
      }
    }
  }
}

std::vector<const json::Value*> used_concepts(const json::Value& procedure) {
  auto concepts = list_of(procedure["usedCode"]);
  for (const auto& one : procedure["used"].items()) {
    if (one.has("concept")) concepts.push_back(&one["concept"]);
  }
  return concepts;
}

void read_text_sizes(std::string_view text, const Resource& r, const Reading& reading, clinical::Procedure& out) {
  for (const auto french : french_in(text, reading.terms, false)) add_size(out, french, r.fact_source(true));
}

// A quantity counts as coded; of a text every size counts, as the site says that it is one.
void read_selected_size(const json::Value& selected, const std::string& place, const Resource& r, Reading& reading, clinical::Procedure& out) {
  if (selected.is_string()) {
    for (const auto french : french_in(selected.text(), reading.terms, true)) add_size(out, french, r.fact_source(true));
    return;
  }
  const auto value = simple_value_of(selected, fhir::QuantityKind::french, r, place, reading);
  if (value && value->micro >= kSmallest && value->micro <= kLargest) return add_size(out, value->micro, r.fact_source());
  reading.warn(r, place, "no-size", "What the site's expression selects is no size of a sheath.");
}

// Text is read beside a coded size as well: it adds none where it agrees, and says so where it does not.
void read_sizes(const json::Value& procedure, const std::vector<Used>& used, const Resource& r, Reading& reading, clinical::Procedure& out) {
  for (const auto& place : reading.site.places_of("sheath-size")) {
    if (place == "extension") {
      for (const auto french : french_of_extensions(procedure, r, reading)) add_size(out, french, r.fact_source());
    } else if (place == "device") {
      read_device_sizes(used, r, reading, out);
    } else if (place == "used-code") {
      for (const auto* one : used_concepts(procedure)) {
        for (const auto& text : texts_of(*one)) read_text_sizes(text, r, reading, out);
      }
    } else if (const auto* path = reading.site.path(place)) {
      for (const auto& value : selected(*path, r, reading)) read_selected_size(value, place, r, reading, out);
    } else {
      for (const auto& note : procedure["note"].items()) read_text_sizes(note["text"].text(), r, reading, out);
    }
  }
}

// Our own word, else a concept, a coding or a text that the terminology knows.
void read_selected_closure(const json::Value& selected, const std::string& place, const Resource& r, Reading& reading, clinical::Procedure& out) {
  if (const auto named = closure_named(selected.text())) return add_closure(out, *named, r.fact_source());
  const auto said = selected.has("code") ? json::Value::object({{"coding", json::Value::array({selected})}}) : selected;
  auto names = texts_of(said);
  if (!selected.text().empty()) names.emplace_back(selected.text());
  bool by_name = false;
  const auto closure = closure_of(codes_of(said, reading), names, reading, by_name);
  if (closure == clinical::Closure::unknown) return reading.warn(r, place, "unknown-code", "What the site's expression selects is no known way of closing.");
  add_closure(out, closure, r.fact_source(by_name));
}

void read_closures(const json::Value& procedure, const std::vector<Used>& used, const Resource& r, Reading& reading, clinical::Procedure& out) {
  for (const auto& place : reading.site.places_of("closure")) {
    if (place == "extension") {
      for (const auto* extension : extensions_of(procedure, "closure-method", reading)) {
        const auto name = code_value(*extension, "", reading);
        const auto closure = closure_named(name);
        if (closure) add_closure(out, *closure, r.fact_source());
        if (!closure) reading.warn(r, "extension", "unknown-code", "\"" + name + "\" is no closure method.");
      }
    } else if (place == "device") {
      for (const auto& one : used) {
        bool by_name = false;
        const auto closure = closure_of(one.codes, one.names, reading, by_name);
        auto source = one.source;
        source.low_confidence = source.low_confidence || by_name;
        add_closure(out, closure, source);
      }
    } else if (const auto* path = reading.site.path(place)) {
      for (const auto& value : selected(*path, r, reading)) read_selected_closure(value, place, r, reading, out);
    } else if (out.closures.empty()) {
      for (const auto* one : used_concepts(procedure)) {
        bool by_name = false;
        const auto closure = closure_of(codes_of(*one, reading), texts_of(*one), reading, by_name);
        add_closure(out, closure, r.fact_source(by_name));
      }
    }
  }
}

}  // namespace

std::vector<clinical::Micro> french_in(std::string_view text, const Terminology& terms, bool any) {
  constexpr std::size_t reach = 40;   // of "6F hydrophilic introducer sheath"
  constexpr std::size_t before = 16;  // of "sheath size: 6F"
  std::vector<clinical::Micro> found;
  const std::string low = lower(text);
  const auto sizes = sizes_in(low);
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    const auto next = i + 1 < sizes.size() ? sizes[i + 1].from : low.size();
    const auto after = low.substr(sizes[i].to, std::min(next - sizes[i].to, reach));
    const auto previous = i > 0 ? sizes[i - 1].to : 0;
    const auto from = std::max(previous, sizes[i].from - std::min(sizes[i].from, before));
    const bool follows = names_sheath(after.substr(0, after.find_first_of(",;")), terms);
    const bool precedes = i == 0 && names_sheath(low.substr(from, sizes[i].from - from), terms);
    if (any || follows || precedes) found.push_back(sizes[i].french);
  }
  return found;
}

// A Reference (R4) or a CodeableReference (R5).
NamedDevice named_device(const json::Value& device, const Resource& r, Reading& reading) {
  NamedDevice found;
  const auto& reference = device["reference"].is_object() ? device["reference"] : device;
  std::vector<Code> codes = codes_of(device["concept"], reading);
  auto names = texts_of(device["concept"]);
  if (const auto display = reference["display"].text(); !display.empty()) names.emplace_back(display);
  const auto* held = reading.set.resolve(reference, r);
  if (held && (*held)["status"].text() != "entered-in-error") {
    for (auto& code : codes_of_all((*held)["type"], reading)) codes.push_back(std::move(code));
    for (auto& name : names_of(*held)) names.push_back(std::move(name));
  } else if (!held && reference.has("reference")) {
    reading.warn(r, "device", "unresolved", "The Device is not here (" + shown(reference, r, reading) + ").");
  }
  const bool coded = meaning_by_code(codes, reading.terms.sheaths) != nullptr;
  found.sheath = coded || std::ranges::any_of(names, [&](const std::string& n) { return names_sheath(n, reading.terms); });
  found.by_name = !coded;
  clinical::Procedure sizes;
  if (held && found.sheath) add_property_sizes(*held, r, reading, sizes, r.fact_source());
  for (const auto& size : sizes.french) found.french.push_back(size.value);
  for (const auto& name : names)
    for (const auto french : french_in(name, reading.terms, found.sheath)) found.french.push_back(french);
  return found;
}

std::vector<clinical::Micro> french_of_extensions(const json::Value& element, const Resource& r, Reading& reading) {
  std::vector<clinical::Micro> sizes;
  for (const auto* extension : extensions_of(element, "sheath-size", reading)) {
    const auto value = simple_value_of((*extension)["valueQuantity"], fhir::QuantityKind::french, r, "extension[sheath-size].valueQuantity", reading);
    if (!value) continue;
    if (value->micro >= kSmallest && value->micro <= kLargest) {
      sizes.push_back(value->micro);
    } else {
      reading.error(r, "extension[sheath-size].valueQuantity", "out-of-range", "\"" + value->written + "\" is no size of a sheath.");
    }
  }
  return sizes;
}

void read_sheath(const json::Value& procedure, const Resource& r, Reading& reading, clinical::Procedure& out) {
  const auto used = used_devices(procedure, r, reading);
  read_sizes(procedure, used, r, reading, out);
  read_closures(procedure, used, r, reading, out);
}

}  // namespace fhir_read
