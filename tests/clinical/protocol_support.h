// The protocol that the tests reckon with: the shipped `cautious` file.
#pragma once

#include "clinical/protocol.h"

namespace clinical {

/// Read once; a fault in the file ends the test run.
const Protocol& cautious();

}  // namespace clinical
