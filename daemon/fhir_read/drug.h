// Which drug a record means: by code, checked against the display, else by whole-word names. A drug that is not known for certain is
// unidentified, never left out.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

struct Drug {
  clinical::Agent agent = clinical::Agent::unidentified;
  bool flush = false;
  bool by_text = false;  // no code of a known system said it
  std::string name;      // as recorded, for people
};

// The drug of `body`: medicationCodeableConcept, medicationReference, or medication.concept / .reference of R5. `path` for issues.
Drug drug_of(const json::Value& body, const Resource& r, Reading& reading);

// Antithrombotics that a text names by whole words; empty: none, or a text that is about another drug.
std::vector<clinical::Agent> drugs_named(std::string_view text, const Reading& reading);

// Heparins, whose "units" mean international units.
bool is_heparin(clinical::Agent agent);

}  // namespace fhir_read
