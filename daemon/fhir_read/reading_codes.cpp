#include "fhir/codes.h"
#include "fhir_read/reading.h"

#include <algorithm>

namespace fhir_read {

std::vector<Code> codes_of(const json::Value& concept_element, const Reading& reading) {
  std::vector<Code> codes;
  for (const auto& coding : concept_element["coding"].items()) {
    Code code{{fhir::canonical_system(coding["system"].text()), std::string(coding["code"].text())}, std::string(coding["display"].text()), false};
    const auto local = reading.site.local_codes.find(code.key);
    codes.push_back(code);
    if (local != reading.site.local_codes.end()) codes.push_back({local->second, code.display, true});
  }
  return codes;
}

std::vector<Code> codes_of_all(const json::Value& concepts, const Reading& reading) {
  std::vector<Code> all;
  for (const auto* one : list_of(concepts)) {
    auto codes = codes_of(*one, reading);
    all.insert(all.end(), std::make_move_iterator(codes.begin()), std::make_move_iterator(codes.end()));
  }
  return all;
}

std::string code_in(const json::Value& concept_element, std::string_view system, const Reading& reading) {
  for (const auto& code : codes_of(concept_element, reading)) {
    if (code.key.system == system) return code.key.code;
  }
  return {};
}

std::vector<std::string> texts_of(const json::Value& concept_element) {
  std::vector<std::string> texts;
  const auto add = [&](std::string_view text) {
    if (!text.empty() && std::ranges::find(texts, text) == texts.end()) texts.emplace_back(text);
  };
  add(concept_element["text"].text());
  for (const auto& coding : concept_element["coding"].items()) add(coding["display"].text());
  return texts;
}

std::string title_of(const json::Value& concept_element) {
  const auto texts = texts_of(concept_element);
  if (!texts.empty()) return texts.front();
  return std::string(concept_element["coding"].at(0)["code"].text());
}

}  // namespace fhir_read
