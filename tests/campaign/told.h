// A record of facts in words a person can read: what a failed case is printed as.
#pragma once

#include <string>

#include "clinical/facts.h"

namespace campaign {

std::string told(const clinical::Record&);

}  // namespace campaign
