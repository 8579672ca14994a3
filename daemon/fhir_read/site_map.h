// Where one hospital records what (profiles/site): local codes, places in order, zone. Loaded once, then only read.
#pragma once

#include "fhir/date_time.h"
#include "fhir/fhirpath.h"
#include "fhir_read/site_codes.h"
#include "fhir_read/terminology.h"
#include "tables/fault.h"

#include <boost/system/result.hpp>

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace fhir_read {

struct SiteMap {
  std::string time_zone;     // name as in the file; empty: none
  fhir::ZoneRule zone;       // from time_zone; the program may set it from its own configuration
  // A local coding counts as this coding as well. A key with empty system meets codings without system. After loading: those of [[local_code]]
  // alone; settle() of `codes` gives all of them.
  std::map<CodeKey, CodeKey> local_codes;
  SiteCodes codes;                                    // what [[local_code]] and the site's FHIR files say
  // Our extension names ("sheath-size") -> further addresses under which the site sends the same.
  std::map<std::string, std::vector<std::string>> extension_urls;
  // Fact -> places in order; see known_places() in load_site_map.cpp for the words. A place that is none of them is a FHIRPath expression.
  std::map<std::string, std::vector<std::string>> places;
  std::map<std::string, fhir::FhirPath> paths;        // by the place's text
  std::vector<std::vector<std::string>> other_drugs;  // names of drugs that are no antithrombotic, as words
  std::string record_number_system;                   // Identifier.system of the number to print; empty: type MR, else the first
  std::vector<std::string> home_request_categories;   // MedicationRequest.category codes that mean a home drug

  const std::vector<std::string>& places_of(const std::string& fact) const;
  const fhir::FhirPath* path(const std::string& place) const;  // nullptr: a word
};

// Every place that exists, in the default order, and no local code.
SiteMap default_site_map();

// Unknown keys, unknown places, wrong types and faults in the FHIR files that it names are faults. The tables [writing], [printing] and [record] are left to others.
boost::system::result<SiteMap, std::vector<tables::Fault>> load_site_map(const std::string& path);

}  // namespace fhir_read
