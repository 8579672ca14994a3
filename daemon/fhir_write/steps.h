// A transaction as single writes, for records that take none: an order in which every prefix is safe to be left with.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "fhir_write/verify.h"
#include "json/tree.h"

namespace fhir_write {

/// One write. Its resource still names others of the same change by urn:uuid: resolved() with what stands by then.
struct SingleWrite {
  std::size_t entry = 0;       ///< which of the bundle it serves; the CarePlan may be written twice
  std::string method;          ///< PUT, POST
  std::string path;            ///< "Task/7", "Task"
  std::string if_match;        ///< of a PUT; empty for the second write of the CarePlan: the version that the first one got
  std::string if_none_exist;   ///< of a POST: query of its identifier; empty where the type has none (Binary, Provenance)
  std::string tagged;          ///< of a POST of such a type: "system%7Ccode" of the tag by which it is found again; empty: none
  std::string identity;        ///< as Placed::identity
  json::Value resource;
};

/// What is taken back first (standing, sitting and removal lead in the bundle already), then the CarePlan as a draft where new Tasks follow, the
/// Tasks, the CarePlan as it is to stand, and the rest in the bundle's order (Binary, DocumentReference, GuidanceResponse, Provenance).
/// A reader who comes in between sees an old plan, or a draft without the new Tasks, never a Task of a plan that is not there.
std::vector<SingleWrite> single_writes(const json::Value& transaction_bundle);

}  // namespace fhir_write
