// profiles/terminology -> Terminology.
#pragma once

#include "fhir_read/terminology.h"
#include "tables/fault.h"

#include <boost/system/result.hpp>

#include <string>
#include <vector>

namespace fhir_read {

// Reads drugs.toml, measurements.toml, procedures.toml, body-sites.toml, devices.toml and risks.toml of `folder`; an unknown key, a wrong
// type, an unknown name and a code in two meanings are faults, all told at once with file, line and column.
boost::system::result<Terminology, std::vector<tables::Fault>> load_terminology(const std::string& folder);

}  // namespace fhir_read
