#include "fhir_read/reading.h"

#include "fhir/codes.h"
#include "fhir_read/shape.h"

#include <algorithm>

namespace fhir_read {
namespace {

const json::Value kNull;

bool has_modifier_extension(const json::Value& value) {
  if (std::ranges::any_of(value.items(), has_modifier_extension)) return true;
  return std::ranges::any_of(value.members(), [](const json::Member& m) {
    return m.name == "modifierExtension" ? m.value.size() > 0 : has_modifier_extension(m.value);
  });
}

// DSTU2 and STU3 deny with a member of its own beside a status that reads as done.
std::string older_denial(const json::Value& body) {
  for (const auto* member : {"notDone", "notPerformed", "notGiven", "wasNotGiven", "wasNotTaken"})
    if (body[member].boolean() == true) return member;
  return body["taken"].text() == "n" ? "taken" : "";
}

void tell_version(const Resource& r, Reading& reading) {
  const auto shape = shape_of(r.body);
  if (!shape.mixed()) return;
  const bool both = !shape.r4.empty() && !shape.r5.empty();
  const std::string text = both ? "Mixes elements of R4 (" + shape.r4.front() + ") and of R5 (" + shape.r5.front() + "); all are read, and where they differ the value is uncertain."
                                : "Names a profile of another version of FHIR than its elements are of (" + (shape.r4.empty() ? shape.r5 : shape.r4).front() + "); the elements count.";
  reading.warn(r, (shape.r5.empty() ? shape.r4 : shape.r5).front(), "version-mixed", text);
}

bool same_patient(const Resource& r, const Reading& reading) {
  if (r.type == "Patient") return r.key() == reading.set.patient();
  const auto& subject = subject_element(r.body);
  return subject.is_null() || reading.set.is_about(key_of(subject, r));
}

}  // namespace

void Reading::error(const Resource& r, std::string_view path, std::string code, std::string text) {
  issues.push_back({fhir::Severity::error, std::move(code), r.at(path), std::move(text)});
}
void Reading::warn(const Resource& r, std::string_view path, std::string code, std::string text) {
  issues.push_back({fhir::Severity::warning, std::move(code), r.at(path), std::move(text)});
}
void Reading::inform(const Resource& r, std::string_view path, std::string code, std::string text) {
  issues.push_back({fhir::Severity::information, std::move(code), r.at(path), std::move(text)});
}

const json::Value& first_of(const json::Value& element, std::initializer_list<std::string_view> names) {
  for (const auto name : names) {
    if (const auto* found = element.find(name)) return *found;
  }
  return kNull;
}

std::vector<json::Value> selected(const fhir::FhirPath& path, const Resource& r, const Reading& reading) {
  return path.evaluate(r.body, [&](const json::Value& reference) { return reading.set.resolve(reference, r); });
}

std::vector<json::Value> selected_by(const std::string& fact, const Resource& r, const Reading& reading) {
  std::vector<json::Value> all;
  for (const auto& place : reading.site.places_of(fact)) {
    const auto* path = reading.site.path(place);
    if (!path) continue;
    for (auto& value : selected(*path, r, reading)) all.push_back(std::move(value));
  }
  return all;
}

std::vector<const json::Value*> list_of(const json::Value& element) {
  std::vector<const json::Value*> list;
  if (element.is_object()) list.push_back(&element);
  for (const auto& item : element.items()) list.push_back(&item);
  return list;
}

const json::Value& concept_in(const json::Value& element) { return element.has("concept") ? element["concept"] : element; }

std::vector<const json::Value*> extensions_of(const json::Value& element, std::string_view name, const Reading& reading) {
  const std::string ours = AFTERSHEATH_BASE "/StructureDefinition/" + std::string(name);
  const auto also = reading.site.extension_urls.find(std::string(name));
  std::vector<const json::Value*> found;
  for (const auto& extension : element["extension"].items()) {
    const auto url = extension["url"].text();
    const bool further = also != reading.site.extension_urls.end() && std::ranges::find(also->second, url) != also->second.end();
    if (url == ours || further) found.push_back(&extension);
  }
  return found;
}

const json::Value& extension_of(const json::Value& element, std::string_view name, const Reading& reading) {
  const auto found = extensions_of(element, name, reading);
  return found.empty() ? kNull : *found.front();
}

std::string key_of(const json::Value& reference, const Resource& r) { return fhir::read_reference(reference, r.base_url).key(); }

std::string first_key(const json::Value& references, std::string_view type, const Resource& r) {
  for (const auto* reference : list_of(references)) {
    const auto target = fhir::read_reference(*reference, r.base_url);
    if (target.is(type)) return target.key();
  }
  return {};
}

namespace {

// Location, Organization: a text. Person: text, else given and family. Device: of R5 `name`, of R4 `deviceName`.
std::string own_name(const json::Value& target) {
  if (target["name"].is_string()) return std::string(target["name"].text());
  if (const auto shown_name = target["displayName"].text(); !shown_name.empty()) return std::string(shown_name);
  for (const auto* names : {"name", "deviceName"}) {
    for (const auto* name : list_of(target[names])) {
      for (const auto* part : {"text", "value", "name"})
        if (const auto text = (*name)[part].text(); !text.empty()) return std::string(text);
      std::string whole;
      for (const auto& given : (*name)["given"].items()) whole += std::string(given.text()) + " ";
      whole += (*name)["family"].text();
      if (!whole.empty()) return whole;
    }
  }
  return {};
}

// What a resource is called: by name, else what it is.
std::string called(const json::Value& target) {
  if (auto name = own_name(target); !name.empty()) return name;
  for (const auto* what : {"code", "type", "location"})
    for (const auto* one : list_of(target[what]))
      if (auto title = title_of(concept_in(*one)); !title.empty()) return title;
  return title_of(target["includedStructure"].at(0)["structure"]);
}

}  // namespace

std::string shown(const json::Value& reference, const Resource& r, const Reading& reading) {
  if (const auto display = reference["display"].text(); !display.empty()) return std::string(display);
  if (const auto* target = reading.set.resolve(reference, r)) {
    if (auto name = called(*target); !name.empty()) return name;
  }
  if (const auto identifier = reference["identifier"]["value"].text(); !identifier.empty()) return std::string(identifier);
  return std::string(reference["reference"].text());
}

Admission admit(const Resource& r, Reading& reading) {
  if (!same_patient(r, reading)) {
    reading.error(r, "subject", "other-patient", "Belongs to another subject than " + reading.set.patient() + "; not used.");
    return {};
  }
  if (r.body["status"].text() == "entered-in-error") {
    reading.inform(r, "status", "entered-in-error", "Entered in error; nothing is concluded from it.");
    return {};
  }
  if (const auto denial = older_denial(r.body); !denial.empty()) {
    reading.error(r, denial, "older-version", "\"" + denial + "\" is how an older version of FHIR says that it did not happen; nothing is concluded from it.");
    return {};
  }
  const Admission doubtful{false, true};
  if (const auto repeated = json::repeated_members(r.body); !repeated.empty()) {
    reading.error(r, repeated.front(), "repeated-member", "The JSON repeats a member, so its meaning is unclear; not used.");
    return doubtful;
  }
  if (has_modifier_extension(r.body)) {
    reading.error(r, "modifierExtension", "modifier-extension", "Carries a modifierExtension that might change its meaning; not used.");
    return doubtful;
  }
  if (const auto rules = r.body["implicitRules"].text(); !rules.empty()) {
    reading.error(r, "implicitRules", "implicit-rules", "Follows rules that are not known here (" + std::string(rules) + "); not used.");
    return doubtful;
  }
  tell_version(r, reading);
  return {true, false};
}

}  // namespace fhir_read
