// What a record says of a Subscription, and of Subscriptions in general.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "json/tree.h"

namespace fhir_read {

struct SubscriptionBrief {
  std::string id, version;  // meta.versionId; empty: not said
  std::string status;       // "requested", "active", "error", "off", "entered-in-error"; as written
  std::string endpoint;
  std::string subject;      // criteria as written, of R5 the topic
  std::string end;          // as written; empty: none
  std::string updated;      // meta.lastUpdated as written; empty: not said
  std::vector<std::string> headers;  // "Name: value" as written, of R5 "Name: value" made of its parameters; empty: none, or not shown
  std::int64_t heartbeat_seconds = 0;  // between heartbeats; 0: none are promised
  std::string error;        // what the record says of its last failure
  std::string writer;       // installation whose tag it carries; empty: nobody's
};
// nullopt when the resource is no Subscription with an id.
std::optional<SubscriptionBrief> subscription_brief(const json::Value& resource);

struct SubscriptionAbility {
  bool listed = false;            // the CapabilityStatement names Subscription
  bool may_create = false;        // listed, and create or update is among its interactions, or it lists none
  bool by_topic = false;          // R4 or R4B with topics (profile, implementation guide, or topics of its own)
  bool r5 = false;
  std::string fhir_version;       // "4.0.1"
  std::vector<std::string> topics;  // canonical addresses that it names; empty says nothing
};
SubscriptionAbility subscription_ability(const json::Value& capability_statement);

// Canonical address of a topic that an R4 record keeps as a Basic, or later ones as a SubscriptionTopic; empty: none.
std::string topic_of(const json::Value& resource);

}  // namespace fhir_read
