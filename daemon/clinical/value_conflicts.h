// What is recorded and cannot be so, or not both: said with its digits, and dealt with where the value is used. None of these withholds an instant by itself.
#pragma once

#include <vector>

#include "clinical/evidence.h"

namespace clinical {

/// The newest value of a test is a number that it cannot be ("impossible-value"), or is recorded in a form that cannot be read ("unread-value"); two analysers, or two places of sampling, contradict each other about
/// the ACT at nearly the same time ("analysers-differ").
std::vector<Conflict> value_conflicts(const Evidence&);

/// Haemostasis is recorded, and so is a device that presses on ("haemostasis-under-device"); null: not so, or nobody says that it is a device.
std::optional<Conflict> dry_under_device(const SiteFacts&);

/// One of the conflicts above.
bool is_dealt_with(const Conflict&);

}  // namespace clinical
