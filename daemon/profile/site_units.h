// [[site.unit]] of the configuration: who owns the Tasks of which place.
#pragma once

#include "profile/configuration.h"
#include "profile/section.h"

namespace profile {

/// Reads the units of [site]. Each names a place once, and an owner.
void read_site_units(const Item& site, Configuration::Site& into, Faults& faults);

}  // namespace profile
