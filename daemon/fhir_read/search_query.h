// A FHIR search (R4, https://hl7.org/fhir/R4/search.html) as asked of us, and which resources it finds. Only of the types that we serve ourselves:
// CarePlan, DetectedIssue, GuidanceResponse, Provenance, Task.
//
// Taken: token (system|code, code, |code, system|; :not), reference (Type/id, id, an address below `base`; :identifier, :Type), date (eq ne gt lt ge le sa
// eb; partial dates are UTC days), :missing, several values with commas, _id, _lastUpdated, _sort, _count. Anything else is a fault and never overlooked: a
// list of work that leaves a filter out would show somebody else's patients.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <boost/system/result.hpp>

#include "json/tree.h"

namespace fhir_read {

/// A parameter that can be searched by, for the CapabilityStatement too.
struct SearchParameter {
  std::string_view type, name, kind;  ///< kind: "token", "reference", "date"
  std::string_view expression;        ///< FHIRPath
  std::string_view definition;        ///< canonical address; empty: HL7's own of that name
};
/// Of every type, by name; `_id` and `_lastUpdated` are of all types and not listed.
std::span<const SearchParameter> search_parameters();

struct SearchQuery {
  struct Term {
    const SearchParameter* parameter = nullptr;  ///< null: _id or _lastUpdated
    std::string name, modifier;
    std::vector<std::string> values;             ///< any of them
  };
  std::string type;
  std::vector<Term> terms;                       ///< all of them
  std::string sort;                              ///< a parameter's name; empty: by id
  bool descending = false;
  std::size_t count = 100;                       ///< on a page; 0: only how many there are
  std::string after;                             ///< where the page before ended: order_key() of its last resource; empty: the first page
  std::string asked;                             ///< the query without `after`, as it came, for links
};

/// `query`: after the '?', percent-encoded. `base`: of this server, so that absolute references are known. The fault is a sentence.
boost::system::result<SearchQuery, std::string> parse_search(std::string_view type, std::string_view query, std::string_view base);

bool matches(const SearchQuery&, const json::Value& resource);
/// Sorts as asked: smaller keys first, whichever direction was asked for. Never empty, different for different ids.
std::string order_key(const SearchQuery&, const json::Value& resource);

/// "patient" of a query that names exactly one: "Patient/a"; empty: it does not.
std::string patient_of(const SearchQuery&);

/// %XX and '+' as in a query; a broken escape stays as it is.
std::string percent_decoded(std::string_view text);
std::string percent_encoded(std::string_view text);

}  // namespace fhir_read
