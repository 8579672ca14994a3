// What the readers of single resource types share: where they read from, where they write facts and issues, and how elements are read.
// Inside fhir_read only.
#pragma once

#include "fhir/issue.h"
#include "fhir_read/resource_set.h"
#include "fhir_read/site_map.h"
#include "fhir_read/terminology.h"

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

struct Reading {
  const ResourceSet& set;
  const SiteMap& site;
  const Terminology& terms;
  clinical::Record record;
  fhir::Issues issues;

  void error(const Resource& r, std::string_view path, std::string code, std::string text);
  void warn(const Resource& r, std::string_view path, std::string code, std::string text);
  void inform(const Resource& r, std::string_view path, std::string code, std::string text);
};

// ---- Codes

// One coding of a CodeableConcept under every key that it counts as (its own, and what the site maps it to).
struct Code {
  CodeKey key;
  std::string display;
  bool mapped = false;  // came from the site's map
};
std::vector<Code> codes_of(const json::Value& concept_element, const Reading& reading);
// Of several concepts, or of one.
std::vector<Code> codes_of_all(const json::Value& concepts, const Reading& reading);
// The first code of `system`; "" when there is none.
std::string code_in(const json::Value& concept_element, std::string_view system, const Reading& reading);
// concept.text and each display, in that order, without repetitions.
std::vector<std::string> texts_of(const json::Value& concept_element);
// For people: text, else the first display, else the first code.
std::string title_of(const json::Value& concept_element);

// The first meaning by code, else nullptr.
template <class Meaning>
const Meaning* meaning_by_code(const std::vector<Code>& codes, const CodeTable<Meaning>& table) {
  for (const auto& code : codes) {
    if (const Meaning* m = table.find(code.key)) return m;
  }
  return nullptr;
}
// The meaning of the longest name in a text; nullptr when none matches or the match is excluded.
template <class Meaning>
const Meaning* meaning_by_name(std::string_view text, const CodeTable<Meaning>& table) {
  const auto words = words_of(text);
  for (const auto& name : table.names) {
    const auto match = name.phrase.match(words);
    if (match == Phrase::Match::yes) return &name.meaning;
    if (match == Phrase::Match::excluded) return nullptr;
  }
  return nullptr;
}

// ---- Times

// A FHIR time text as a Moment; absent (no issue), or unusable (issue at `path`).
std::optional<clinical::Moment> moment_of(const json::Value& text, const Resource& r, std::string_view path, Reading& reading);

struct Times {
  std::optional<clinical::Moment> start, end;
  bool single = false;  // one dateTime: start == end
  friend bool operator==(const Times&, const Times&) = default;
};
// What two tellings of one time have in common: each end spans both, and is none where one has none.
Times spanning(const Times& a, const Times& b);
// <stem>DateTime, <stem>Instant and <stem>Period of all stems ("performed", "occurrence"). Where a resource says its time more than once and the
// sayings differ, it spans them, with an issue; an end that one of them leaves open is open. String, Age, Range and Timing give no clock time
// and an issue.
Times times_of(const json::Value& body, std::initializer_list<std::string_view> stems, const Resource& r, Reading& reading);
Times period_of(const json::Value& period, const Resource& r, std::string_view path, Reading& reading);
// For a value that was measured or drawn at one instant: a single time, or the period with both ends.
std::optional<clinical::Moment> moment_of(const Times& times);

// ---- Elements

// The extension of ours (or the site's address for it) with that short name; null value when absent.
const json::Value& extension_of(const json::Value& element, std::string_view name, const Reading& reading);
// All of them, for facts that contradict each other when they are said twice.
std::vector<const json::Value*> extensions_of(const json::Value& element, std::string_view name, const Reading& reading);
// The value of the first of these members that is present.
const json::Value& first_of(const json::Value& element, std::initializer_list<std::string_view> names);
// What the site's own expressions for a fact select in a resource, in the order of its places.
std::vector<json::Value> selected_by(const std::string& fact, const Resource& r, const Reading& reading);
std::vector<json::Value> selected(const fhir::FhirPath& path, const Resource& r, const Reading& reading);
// Items of a 0..* element that some versions write as 0..1: an object counts as a list of one.
std::vector<const json::Value*> list_of(const json::Value& element);
// The concept of a CodeableReference (R5); a CodeableConcept (R4) as it is.
const json::Value& concept_in(const json::Value& element);
// "Type/id" when the reference is on the same server, else "".
std::string key_of(const json::Value& reference, const Resource& r);
// The first reference of that type in a list of References (or one Reference).
std::string first_key(const json::Value& references, std::string_view type, const Resource& r);
// Display of a reference, else the text of its target's code or name, else its address.
std::string shown(const json::Value& reference, const Resource& r, const Reading& reading);

// ---- Admission

// False, with the reason told: another patient's, entered in error, with implicitRules, with an unknown modifierExtension or with repeated
// members. `doubtful` says that the resource was refused for what it might mean, not because it is void.
struct Admission {
  bool admitted = false;
  bool doubtful = false;
};
Admission admit(const Resource& r, Reading& reading);

}  // namespace fhir_read
