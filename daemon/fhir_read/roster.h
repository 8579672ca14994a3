// Whom a list of patients names: the roster of a unit, as an Encounter, Appointment, Group or List of the record says it.
#pragma once

#include <set>
#include <string>
#include <string_view>

#include "json/tree.h"

namespace fhir_read {

/// "Patient/a" of an Encounter that may be going on, an Appointment that stands, the active members of a Group, the entries of a List that were not
/// taken off it. Any other resource, and whom it names by anything but a reference below `base_url`: none.
std::set<std::string> patients_on_roster(const json::Value& resource, std::string_view base_url);

// Entries of a Group or List that are in force and name no Patient by a reference (an identifier alone, an Encounter). 0 for other types.
std::size_t nobody_on_roster(const json::Value& resource, std::string_view base_url);

/// Whether one of its identifiers has both (an empty system is none).
bool has_identifier(const json::Value& resource, std::string_view system, std::string_view value);

}  // namespace fhir_read
