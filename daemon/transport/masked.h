// Text that another program wrote, for people to read: nothing in it may let anybody in.
#pragma once

#include <string>
#include <string_view>

namespace transport {

/// One line of at most `limit` bytes, credentials, tokens and long keys replaced by "[masked]". Names of people are not recognised.
std::string masked(std::string_view text, std::size_t limit);

}  // namespace transport
