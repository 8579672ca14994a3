// What [subscriptions] asks of its own keys and of others. Inside profile only.
#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "profile/configuration.h"
#include "profile/section.h"

namespace profile {

/// "a; b" as {"a", "b"}; empty parts do not count.
std::vector<std::string> parts_of(std::string_view text);

/// Puts the endpoint into its one form, and gives the record a source where it has none, so that what it sends counts as its own.
void read_subscriptions(const std::function<Place(std::string_view name)>& place_of, Configuration& into, Faults& faults);

}  // namespace profile
