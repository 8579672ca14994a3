// Which form of Subscription this record takes.
#pragma once

#include <string>
#include <vector>

#include "fhir_read/subscription_brief.h"
#include "profile/configuration.h"

namespace app {

struct SubscriptionChoice {
  std::string form;                        ///< "none", "plain", "backport", "r5"
  std::string why_none;                    ///< for people; empty where there is a form
  std::vector<std::string> subjects;       ///< a Subscription each
  std::vector<std::string> unknown_topics; ///< configured, and not among those that the record names
};

/// Why there is none whatever the record can; empty: the record is to be asked.
std::string why_no_subscriptions(const profile::Configuration&);
/// What is configured; with "auto" what the record says it can.
SubscriptionChoice choose_subscriptions(const profile::Configuration&, const fhir_read::SubscriptionAbility& record);

}  // namespace app
