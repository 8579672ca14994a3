// Every fact of a record as a line of text, for tests that hold two records against each other. What differs shows as a differing line.
#pragma once

#include "clinical/facts.h"

#include <string>
#include <vector>

namespace reading_test {

// In the order of clinical::Record; the version of a source is left out.
std::vector<std::string> facts_as_text(const clinical::Record& record);

}  // namespace reading_test
