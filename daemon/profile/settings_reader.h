// The settings of one protocol file: clinical/settings.def, and where the file has [early-walk] clinical/early_walk.def.
#pragma once

#include <string>

#include "clinical/protocol.h"
#include "profile/section.h"

namespace profile {

/// Reads the settings of `root` into the protocol, every fault with its place. With `whole` each must be there; else what is not there stays as it
/// is. What a protocol may leave unset is read where it is there. Early rows are read where [early-walk] is there, and then each of them must be, unless the protocol has them already. `last_reviewed`
/// ("YYYY-MM-DD", empty: not known): no value may be dated after it.
void read_settings(const Item& root, const std::string& last_reviewed, bool whole, clinical::Protocol& protocol, Faults& faults);

}  // namespace profile
