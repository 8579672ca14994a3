// Code maps as data (profiles/terminology): what a code or a name means to this program. Loaded once, then only read.
#pragma once

#include "clinical/facts.h"
#include "fhir_read/phrase.h"

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

// `system` in canonical form (fhir::canonical_system).
struct CodeKey {
  std::string system, code;
  friend auto operator<=>(const CodeKey&, const CodeKey&) = default;
};

// A table from codes, and where no code is known from names, to a meaning.
template <class Meaning>
struct CodeTable {
  struct Name {
    Phrase phrase;
    Meaning meaning;
  };
  std::map<CodeKey, Meaning> codes;
  std::vector<Name> names;  // longest phrase first

  const Meaning* find(const CodeKey& key) const {
    const auto it = codes.find(key);
    return it == codes.end() ? nullptr : &it->second;
  }
};

struct DrugMeaning {
  clinical::Agent agent = clinical::Agent::unidentified;
  bool flush = false;
  friend auto operator<=>(const DrugMeaning&, const DrugMeaning&) = default;
};

struct SiteMeaning {
  bool femoral = false;
  clinical::Side side = clinical::Side::unknown;
  clinical::Vessel vessel = clinical::Vessel::unknown;
};

enum class Laterality { left, right, both };

struct AtcGroup {
  std::string prefix;
  clinical::Agent agent{};
};

struct Terminology {
  CodeTable<DrugMeaning> drugs;
  std::vector<AtcGroup> atc_groups;
  std::vector<std::vector<std::string>> other_drugs;  // names of drugs that are no antithrombotic, as words
  CodeTable<clinical::Route> routes;
  CodeTable<clinical::Analyte> measurements;
  CodeTable<clinical::Tristate> catheters;            // catheter procedures -> intervention or not
  std::map<CodeKey, clinical::AccessEventKind> events;
  CodeTable<SiteMeaning> sites;
  CodeTable<Laterality> laterality;
  CodeTable<bool> sheaths;
  CodeTable<clinical::Closure> closures;
  CodeTable<clinical::RiskKind> risks;
  CodeTable<bool> kidney_failure;                     // a condition that makes an older creatinine worthless
  CodeTable<bool> filtration_rates;                   // estimated glomerular filtration rates
  CodeTable<clinical::RiskKind> allergies;            // what an allergy is to
  CodeTable<clinical::OrderKind> orders;              // bed rest and sheath removal
  std::map<std::string, std::set<std::string>> order_words;  // what the words of an order do, by their kind in procedures.toml ("sheath", "remove", "not" ...)
  std::vector<std::vector<std::string>> calm_notes;   // words and phrases that say nothing bad, the longest first
  std::vector<std::string> trouble_notes;             // beginnings of words that do
  std::set<std::string> denying_notes;                // whole words that do
  std::set<CodeKey> home_lists;
  std::vector<Phrase> watched_results, watched_procedures;  // words of what is looked for: a result or procedure that has them and no known code is told
};

}  // namespace fhir_read
