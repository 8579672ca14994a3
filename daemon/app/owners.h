// Which unit owns the Tasks of a patient: that of the place where the patient lies.
#pragma once

#include <string>
#include <vector>

#include "fhir_write/context.h"
#include "profile/configuration.h"
#include "store/case.h"

namespace app {

/// The unit of the first of these places that has one of its own ("Location/x", from the bed outwards), else the site's.
inline fhir_write::Named owner_at(const profile::Configuration::Site& site, const std::vector<std::string>& places) {
  for (const std::string& place : places)
    for (const auto& unit : site.units)
      if (unit.location == place) return {unit.owner, unit.owner_name};
  return {site.owner, site.owner_name};
}

/// All that we ever write as one.
inline std::vector<std::string> owners_of(const profile::Configuration::Site& site) {
  std::vector<std::string> owners;
  if (!site.owner.empty()) owners.push_back(site.owner);
  for (const auto& unit : site.units) owners.push_back(unit.owner);
  return owners;
}

/// Tasks that somebody of another unit than the patient's has taken up: they stay there, and the plan says so.
std::vector<fhir_write::WriterContext::InOtherHands> in_other_hands(const std::vector<store::Item>&, const std::vector<clinical::Standing>&, const fhir_write::Named& owner);

}  // namespace app
