// What a notification of a Subscription says beside the resources that it is about: the SubscriptionStatus of R4B and R5, or the Parameters that stand for
// it in R4 (http://hl7.org/fhir/uv/subscriptions-backport, https://hl7.org/fhir/R5/subscriptionstatus.html).
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "fhir/issue.h"
#include "fhir/reference.h"
#include "json/tree.h"

namespace fhir_read {

struct NoticeEvent {
  std::optional<std::int64_t> number;  // counts from 1 over the life of the Subscription; none: not said, or no count
  std::string timestamp;               // as written; may be empty
  fhir::Reference focus;               // ReferenceKind::none with an empty payload
};

struct Notice {
  std::string type;                    // "handshake", "heartbeat", "event-notification", "query-status", "query-event"; as written
  std::string subscription_id;         // of the Subscription that speaks; empty: not said
  std::string topic, status;           // as written
  std::optional<std::int64_t> events_since_start;  // this notification's included, delivered or not; handshake and heartbeat raise it not
  std::vector<NoticeEvent> events;     // in the order given
  std::vector<std::string> errors;     // of the record's deliveries: "no-response", for people
};

bool is_notice(const json::Value& resource);

// nullopt when `resource` is none of the two. What is no count, or no type of notification, is an issue below `at` and left out.
std::optional<Notice> notice_of(const json::Value& resource, std::string_view at, fhir::Issues& issues);

// Every notice in a Bundle, in order: the answer to $status has one a Subscription.
std::vector<Notice> notices_in(const json::Value& bundle, fhir::Issues& issues);

// A count as a number or as text, as R4, R4B and R5 differ: 0 to 2^63 - 1, digits alone. nullopt for anything else.
std::optional<std::int64_t> count_of(const json::Value& value);

}  // namespace fhir_read
