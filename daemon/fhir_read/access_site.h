// Where the puncture is: femoral or not, side, vessel - from codes, qualifiers, extensions and, last, text. A side is never inferred.
#pragma once

#include "fhir_read/reading.h"

namespace fhir_read {

struct AccessSite {
  bool femoral = false;
  std::vector<clinical::Recorded<clinical::Side>> sides;      // everything said, so that contradictions show
  std::vector<clinical::Recorded<clinical::Vessel>> vessels;
};

// One CodeableConcept or several (bodySite). A qualifier that stands alone ("Left") counts when another of them is femoral.
void add_body_sites(const json::Value& concepts, const Resource& r, Reading& reading, AccessSite& site);
// bodySite of a resource, with what stands for it: bodyStructure (R5) and the extension bodySite, each a BodyStructure.
void add_sites_of(const json::Value& resource, const Resource& r, Reading& reading, AccessSite& site);
// A Procedure by the site's places for "femoral", "side" and "vessel".
AccessSite access_site_of(const json::Value& procedure, const Resource& r, Reading& reading);

// The one thing said; unknown when nothing or several were.
clinical::Side only_side(const AccessSite& site);
clinical::Vessel only_vessel(const AccessSite& site);

// The Procedure that a resource belongs to by partOf, else by focus: of several the one that is itself part of another (an access site rather than
// the index case); an access event stands for what it is part of. Empty: none is named.
std::string named_procedure(const Resource& r, const Reading& reading);

}  // namespace fhir_read
