#include "fhir_read/unmapped.h"

#include "fhir/codes.h"

#include <algorithm>
#include <array>

namespace fhir_read {
namespace {

constexpr std::size_t kCodes = 6;   // shown of one concept
constexpr std::size_t kText = 60;   // bytes shown of a name

// Systems in which another code is another thing, known to those who made the system: what is not on our lists is not looked for.
bool of_a_published_system(const std::string& system) {
  constexpr std::array published{fhir::system_uri::loinc, fhir::system_uri::snomed, fhir::system_uri::rxnorm, fhir::system_uri::atc, fhir::system_uri::icd10pcs, fhir::system_uri::dicom};
  return std::ranges::find(published, system) != published.end();
}

std::string quoted(std::string_view text) {
  auto end = std::min(text.size(), kText);
  while (end < text.size() && end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return "\"" + std::string(text.substr(0, end)) + (end < text.size() ? "...\"" : "\"");
}

// https://hospital.example/lab|K17 "ACT at the bedside"
std::string written(const std::vector<Code>& codes, const std::vector<std::string>& texts) {
  std::string all;
  for (std::size_t i = 0; i < codes.size() && i < kCodes; ++i)
    if (!codes[i].mapped) all += (all.empty() ? "" : ", ") + codes[i].key.system + "|" + codes[i].key.code;
  if (all.empty()) all = "no code";
  if (!texts.empty()) all += " " + quoted(texts.front());
  return all;
}

bool watched(const std::vector<std::string>& texts, const std::vector<Phrase>& phrases) {
  return std::ranges::any_of(texts, [&](const std::string& text) {
    const auto words = words_of(text);
    return std::ranges::any_of(phrases, [&](const Phrase& phrase) { return phrase.match(words) == Phrase::Match::yes; });
  });
}

bool only_local(const std::vector<Code>& codes) {
  return !codes.empty() && std::ranges::none_of(codes, [](const Code& one) { return of_a_published_system(one.key.system); });
}

bool has_value(const json::Value& observation) {
  if (observation.has("dataAbsentReason")) return true;
  if (std::ranges::any_of(observation.members(), [](const json::Member& m) { return m.name.starts_with("value") && !m.value.is_null(); })) return true;
  return std::ranges::any_of(observation["component"].items(), has_value);
}

// Laboratory, vital signs, or of no category at all.
bool is_result(const json::Value& observation) {
  const auto categories = list_of(observation["category"]);
  return categories.empty() || std::ranges::any_of(categories, [](const json::Value* category) {
           return std::ranges::any_of((*category)["coding"].items(), [](const json::Value& c) { return c["code"].text() == "laboratory" || c["code"].text() == "vital-signs"; });
         });
}

void tell(bool matters, std::string code, std::string text, const Resource& r, Reading& reading) {
  if (matters) reading.warn(r, "code", std::move(code), std::move(text));
  else reading.inform(r, "code", std::move(code), std::move(text));
}

}  // namespace

void tell_unmapped_result(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "cancelled" || status == "registered" || !has_value(r.body)) return;
  const auto codes = codes_of(r.body["code"], reading);
  const auto texts = texts_of(r.body["code"]);
  const bool matters = watched(texts, reading.terms.watched_results);
  if (matters || (only_local(codes) && is_result(r.body))) tell(matters, "unmapped-result", written(codes, texts), r, reading);
}

void tell_unmapped_procedure(const Resource& r, Reading& reading) {
  const auto status = r.body["status"].text();
  if (status == "not-done" || status == "preparation") return;
  const auto codes = codes_of(r.body["code"], reading);
  const auto texts = texts_of(r.body["code"]);
  const bool matters = watched(texts, reading.terms.watched_procedures);
  if (matters || only_local(codes)) tell(matters, "unmapped-procedure", written(codes, texts), r, reading);
}

void tell_unmapped_drug(const std::vector<const json::Value*>& concepts, const Resource& r, Reading& reading) {
  std::string all;
  for (const auto* one : concepts) {
    const auto codes = codes_of(*one, reading);
    const auto texts = texts_of(*one);
    if (!codes.empty() || !texts.empty()) all += (all.empty() ? "" : "; ") + written(codes, texts);
  }
  reading.inform(r, "medication", "unmapped-drug", all.empty() ? "no code" : all);
}

}  // namespace fhir_read
