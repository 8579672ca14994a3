#include "fhir_write/subscription.h"

#include "fhir/codes.h"

namespace fhir_write {
namespace {

using json::Value;

#define BACKPORT "http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/"

constexpr std::int64_t kMostEvents = 20;   // in one notification: bounds what has to be held at once
constexpr std::int64_t kPatience = 60;     // s that the record waits for our answer
constexpr const char* kReason = "Aftercare of the femoral access site: plans are kept in step with what is recorded";
constexpr const char* kMedia = "application/fhir+json";

Value contact_of(const std::string& address) {
  const auto point = [](const char* system, std::string value) { return Value::object({{"system", system}, {"value", std::move(value)}}); };
  if (address.starts_with("mailto:")) return point("email", address.substr(7));
  if (address.starts_with("tel:")) return point("phone", address.substr(4));
  return point(address.find("://") == std::string::npos ? "other" : "url", address);
}

Value meta_of(const SubscriptionWish& wish) {
  Value meta = Value::object();
  if (wish.form == SubscriptionForm::backport) meta.set("profile", Value::array({BACKPORT "backport-subscription"}));
  if (wish.test_data) meta.set("security", Value::array({Value::object({{"system", fhir::system_uri::act_reason}, {"code", "HTEST"}})}));
  meta.set("tag", Value::array({Value::object({{"system", AFTERSHEATH_BASE "/CodeSystem/writer"}, {"code", wish.installation}})}));
  return meta;
}

std::string canonical_of(const std::string& subject) { return subject.substr(0, subject.find(' ')); }
std::string filter_of(const std::string& subject) { return subject.find(' ') == std::string::npos ? "" : subject.substr(subject.find(' ') + 1); }

Value extension(const char* url, const char* member, Value value) { return Value::object({{"url", url}, {member, std::move(value)}}); }

void add_r4(Value& out, const SubscriptionWish& wish) {
  Value channel = Value::object();
  const bool topic = wish.form == SubscriptionForm::backport;
  if (topic) {
    Value asked = Value::array();
    if (wish.heartbeat_seconds > 0) asked.push(extension(BACKPORT "backport-heartbeat-period", "valueUnsignedInt", wish.heartbeat_seconds));
    asked.push(extension(BACKPORT "backport-timeout", "valueUnsignedInt", kPatience));
    asked.push(extension(BACKPORT "backport-max-count", "valuePositiveInt", kMostEvents));
    channel.set("extension", std::move(asked));
  }
  channel.set("type", "rest-hook");
  channel.set("endpoint", wish.endpoint);
  if (topic || wish.payload != "empty") channel.set("payload", kMedia);
  if (topic) channel.set("_payload", Value::object({{"extension", Value::array({extension(BACKPORT "backport-payload-content", "valueCode", wish.payload)})}}));
  channel.set("header", Value::array({wish.header + ": " + wish.secret}));
  out.set("criteria", canonical_of(wish.subject));
  if (const auto filter = filter_of(wish.subject); topic && !filter.empty())
    out.set("_criteria", Value::object({{"extension", Value::array({extension(BACKPORT "backport-filter-criteria", "valueString", filter)})}}));
  out.set("channel", std::move(channel));
}

/// "Observation?category=laboratory&code=1" as one filterBy a parameter; a modifier or a comparator stays with the name and the value.
Value filters_of(const std::string& filter) {
  Value list = Value::array();
  const auto mark = filter.find('?');
  const std::string type = filter.substr(0, mark);
  for (std::string rest = mark == std::string::npos ? "" : filter.substr(mark + 1); !rest.empty();) {
    const std::string one = rest.substr(0, rest.find('&'));
    rest.erase(0, one.size() + 1);
    const auto equals = one.find('=');
    if (equals == std::string::npos) continue;
    Value by = Value::object({{"resourceType", type}});
    const std::string name = one.substr(0, equals);
    by.set("filterParameter", name.substr(0, name.find(':')));
    if (name.find(':') != std::string::npos) by.set("modifier", name.substr(name.find(':') + 1));
    by.set("value", one.substr(equals + 1));
    list.push(std::move(by));
  }
  return list;
}

void add_r5(Value& out, const SubscriptionWish& wish) {
  out.set("topic", canonical_of(wish.subject));
  out.set_present("filterBy", filters_of(filter_of(wish.subject)));
  out.set("channelType", Value::object({{"system", "http://terminology.hl7.org/CodeSystem/subscription-channel-type"}, {"code", "rest-hook"}}));
  out.set("endpoint", wish.endpoint);
  out.set("parameter", Value::array({Value::object({{"name", wish.header}, {"value", wish.secret}})}));
  if (wish.heartbeat_seconds > 0) out.set("heartbeatPeriod", wish.heartbeat_seconds);
  out.set("timeout", kPatience);
  out.set("contentType", kMedia);
  out.set("content", wish.payload);
  out.set("maxCount", kMostEvents);
}

}  // namespace

Value subscription(const SubscriptionWish& wish) {
  Value out = Value::object({{"resourceType", "Subscription"}});
  out.set_present("id", wish.id);
  out.set("meta", meta_of(wish));
  out.set("status", wish.status);
  if (!wish.contact.empty()) out.set("contact", Value::array({contact_of(wish.contact)}));
  out.set_present("end", wish.end);
  out.set("reason", kReason);
  if (wish.form == SubscriptionForm::r5) add_r5(out, wish);
  else add_r4(out, wish);
  return out;
}

Value switched_off(Value subscription) {
  subscription.set("status", "off");
  subscription.erase("error");
  return subscription;
}

std::string writer_tag(std::string_view installation) { return AFTERSHEATH_BASE "/CodeSystem/writer|" + std::string(installation); }

}  // namespace fhir_write
