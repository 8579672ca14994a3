// What a protocol's numbers may be at all: ranges and orders that catch a slipped digit or two values exchanged.
// They are far wider than good practice; which value is right is for those who sign the protocol.
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "clinical/protocol.h"
#include "profile/section.h"

namespace profile {

struct ReadSetting {
  const clinical::Setting* setting = nullptr;
  Place at;  ///< of its value
};
/// By key; only settings whose value could be read and is in its range.
using ReadSettings = std::map<std::string, ReadSetting, std::less<>>;

/// One value against its range and granularity (whole minutes, whole French). False, with a fault, when it is outside.
bool check_range(std::string_view key, const ReadSetting&, Faults&);

/// Every pair that has an order, and every split that must fit into its whole.
void check_orders(const ReadSettings&, Faults&);

}  // namespace profile
