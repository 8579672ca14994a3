// What a searchset says of itself: whose facts it shows, whether it shows all of them, and whether the record keeps some back.
#pragma once

#include "fhir/issue.h"
#include "fhir_read/intake.h"
#include "json/tree.h"

#include <string>
#include <string_view>

namespace fhir_read {

// What was searched for, as its address says.
struct SearchedFor {
  std::string type;      // "Observation"; empty: not known, or several
  std::string patient;   // "Patient/a"; empty: not known, or several
  bool narrowed = false; // by anything beside the patient: what such a search does not show proves nothing
};
// Of "Observation?patient=a&_count=100", absolute or relative; "patient:Patient", "subject" and "Patient/a" are understood.
SearchedFor searched_for(std::string_view url);

// Of one entry with an OperationOutcome.
struct OutcomeBrief {
  bool error = false;      // what is there is a part of what was asked for: an error, or an answer that calls itself incomplete
  bool kept_back = false;  // the record says that it keeps something back: issue types security, forbidden and suppressed
                           // (https://hl7.org/fhir/R4/valueset-issue-type.html)
};
OutcomeBrief outcome_brief(const json::Value& outcome);

// A label on the Bundle itself that says that something was left out of it (REDACTED, MASKED, SUBSETTED).
bool labelled_in_part(const json::Value& bundle);

// That the record keeps facts of one kind about one patient back, as a resource of this program's own, to be held like any other fact: PUT it while it is
// so, DELETE it once a whole search shows otherwise. Its id is made of patient and type. It is read like a Consent that denies.
ResourceEvent kept_back(const SearchedFor& what, bool still);

// Of a whole Bundle of type searchset: issues of the codes "partial" (what is there is a part) and "withheld", and what follows from them.
struct SearchsetBrief {
  fhir::Issues issues;
  std::vector<ResourceEvent> events;  // at most one of kept_back
};
SearchsetBrief searchset_brief(const json::Value& bundle, const std::string& at);

}  // namespace fhir_read
