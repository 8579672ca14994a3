// Codes of the site from FHIR ConceptMap and ValueSet files and from [[local_code]]: what is said of each, and what comes of it.
#pragma once

#include "fhir_read/terminology.h"
#include "json/tree.h"
#include "tables/fault.h"

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

// One line of a map: `local` is, or is not, what `means` is.
struct CodeSaying {
  CodeKey local, means;
  bool same = true;
  tables::Fault place;  // file, and line and column or the element's path as the text's beginning
};

// What files of the site say. Faults keep the site from being loaded.
struct SiteCodes {
  struct LeftOut {
    tables::Fault place;
    std::string what, why;  // "https://hospital.example/lab|K17"; the same reason in the same words
  };
  std::vector<CodeSaying> sayings;
  std::vector<tables::Fault> faults;
  std::vector<LeftOut> left_out;
};

// One note a file and reason, with their number and the first, for `check`.
std::vector<tables::Fault> notes_on(const std::vector<SiteCodes::LeftOut>& left_out);

// A ConceptMap of R4, R4B or R5. Taken is what says that the target means the same (R4 equal, equivalent; R5 equivalent) or plainly more
// than the source, so that what the target stands for holds for the source (R5 source-is-narrower-than-target). R4's wider and subsumes mean the same on
// paper, but maps in use have them the wrong way round (the official cm-address-use-v2 of R4 says wider where that of R5 says source-is-broader): left out. What says that they are unrelated (R4 disjoint; R5
// not-related-to) is kept to contradict. Everything else: inexact targets, sources without a target, targets with conditions (dependsOn),
// group.unmapped: all of these are left out. Faults: no JSON, no ConceptMap, a retired one, a modifierExtension, a group without source or target, a target without code.
// Sources: https://hl7.org/fhir/R4/valueset-concept-map-equivalence.html, https://hl7.org/fhir/R5/valueset-concept-map-relationship.html
void read_concept_map(const std::string& file, std::string_view text, SiteCodes& codes);

// A ValueSet all of whose codes mean `means`: its expansion, or where it has none the codes that it lists. What only a terminology server could work out
// (filters, whole systems, other value sets, exclusions beside an expansion that is a part) is a fault.
void read_value_set(const std::string& file, std::string_view text, const CodeKey& means, SiteCodes& codes);

// What each local code means in the end. Of several meanings of one code those count that this program knows; two that differ, a meaning that is said and
// denied, and a code that this program itself knows as something else are faults; a meaning that it does not know is left out.
std::map<CodeKey, CodeKey> settle(SiteCodes& codes, const Terminology& terms);

}  // namespace fhir_read
