#include "fhir_read/labels.h"

#include <map>

#include "fhir/codes.h"
#include "fhir/labels.h"

namespace fhir_read {

std::string highest_confidentiality(const ResourceSet& set) {
  constexpr auto none = std::string_view::npos;
  std::size_t highest = none;
  for (const Resource& one : set.all())
    for (const json::Value& label : one.body["meta"]["security"].items()) {
      const auto code = label["code"].text();
      if (code.size() != 1 || fhir::canonical_system(label["system"].text()) != fhir::confidentiality_system) continue;
      const auto rank = fhir::confidentiality_order.find(code);
      if (rank != none && (highest == none || rank > highest)) highest = rank;
    }
  return highest == none ? std::string() : std::string(1, fhir::confidentiality_order[highest]);
}

std::vector<fhir::Label> sensitivity_labels(const ResourceSet& set) {
  std::map<std::string, std::string> displays;
  for (const Resource& one : set.all())
    for (const json::Value& label : one.body["meta"]["security"].items())
      if (const auto code = label["code"].text(); !code.empty() && fhir::canonical_system(label["system"].text()) == fhir::system_uri::act_code)
        displays.try_emplace(std::string(code), label["display"].text());
  std::vector<fhir::Label> labels;
  for (auto& [code, display] : displays) labels.push_back({std::string(fhir::system_uri::act_code), code, display});
  return labels;
}

}  // namespace fhir_read
