// The protocol that the tests reckon with: the shipped files, mostly `cautious`.
#pragma once

#include "clinical/protocol.h"

namespace clinical {

/// Read once; a fault in the file ends the test run.
const Protocol& cautious();
/// The shipped protocol with early rows.
const Protocol& early_walk();

}  // namespace clinical
