// A Subscription of ours: with a search as its criteria (R4), with a topic (R4 backport, R4B), or of R5.
// Shapes: https://hl7.org/fhir/R4/subscription.html, http://hl7.org/fhir/uv/subscriptions-backport (profile backport-subscription),
// https://hl7.org/fhir/R5/subscription.html.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "json/tree.h"

namespace fhir_write {

enum class SubscriptionForm { plain, backport, r5 };

struct SubscriptionWish {
  SubscriptionForm form = SubscriptionForm::plain;
  std::string id;              ///< of the one that is updated; empty: a new one
  std::string status = "requested";
  std::string subject;         ///< plain: "Task?"; else "CANONICAL" or "CANONICAL Type?filter"
  std::string endpoint;        ///< absolute
  std::string header, secret;  ///< sent along with every notification
  std::string payload;         ///< "empty", "id-only", "full-resource"
  std::string end;             ///< instant, RFC 3339; empty: none
  std::string contact;         ///< "mailto:...", "tel:..." or another address; empty: none
  std::string installation;    ///< goes into meta.tag
  bool test_data = false;
  std::int64_t heartbeat_seconds = 0;  ///< 0: none is asked for; plain knows none
};
json::Value subscription(const SubscriptionWish&);

/// As the record has it, but asked for no longer.
json::Value switched_off(json::Value subscription);

/// "system|code" of the tag of an installation, for _tag.
std::string writer_tag(std::string_view installation);

}  // namespace fhir_write
