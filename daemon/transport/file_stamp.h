// Inside transport/: whether files are still the ones that were read.
#pragma once

#include <string>
#include <vector>

namespace transport {

/// Identity, size and time of change of each; a file that is not there, or an empty name, counts too.
std::string stamp_of(std::vector<std::string> const& files);

}  // namespace transport
