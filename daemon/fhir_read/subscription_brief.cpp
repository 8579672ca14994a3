#include "fhir_read/subscription_brief.h"

#include <algorithm>

#include "fhir/codes.h"

namespace fhir_read {
namespace {

constexpr std::string_view kGuide = "http://hl7.org/fhir/uv/subscriptions-backport/";
constexpr std::string_view kTopicExtension = "capabilitystatement-subscriptiontopic-canonical";

bool names_guide(const json::Value& list) {
  return std::ranges::any_of(list.items(), [](const json::Value& one) { return one.text().starts_with(kGuide); });
}

void read_resource(const json::Value& resource, SubscriptionAbility& ability) {
  ability.listed = true;
  const auto interactions = resource["interaction"].items();
  ability.may_create = interactions.empty() || std::ranges::any_of(interactions, [](const json::Value& one) { return one["code"].text() == "create"; });
  ability.by_topic = ability.by_topic || names_guide(resource["supportedProfile"]) || resource["profile"].text().starts_with(kGuide);
  for (const auto& extension : resource["extension"].items())
    if (extension["url"].text().ends_with(kTopicExtension))
      for (const char* value : {"valueCanonical", "valueUri", "valueUrl"})
        if (const auto topic = extension[value].text(); !topic.empty()) ability.topics.emplace_back(topic);
}

}  // namespace

std::optional<SubscriptionBrief> subscription_brief(const json::Value& resource) {
  if (resource["resourceType"].text() != "Subscription" || resource["id"].text().empty()) return std::nullopt;
  SubscriptionBrief brief;
  brief.id = resource["id"].text();
  brief.version = resource["meta"]["versionId"].text();
  brief.status = resource["status"].text();
  brief.endpoint = resource["channel"]["endpoint"].text();
  if (brief.endpoint.empty()) brief.endpoint = resource["endpoint"].text();
  brief.subject = resource["criteria"].text();
  if (brief.subject.empty()) brief.subject = resource["topic"].text();
  brief.end = resource["end"].text();
  brief.error = resource["error"].text();
  brief.updated = resource["meta"]["lastUpdated"].text();
  for (const auto& header : resource["channel"]["header"].items()) brief.headers.emplace_back(header.text());
  for (const auto& one : resource["parameter"].items()) brief.headers.push_back(std::string(one["name"].text()) + ": " + std::string(one["value"].text()));
  brief.heartbeat_seconds = resource["heartbeatPeriod"].integer().value_or(0);
  for (const auto& extension : resource["channel"]["extension"].items())
    if (extension["url"].text().ends_with("/backport-heartbeat-period")) brief.heartbeat_seconds = extension["valueUnsignedInt"].integer().value_or(0);
  for (const auto& tag : resource["meta"]["tag"].items())
    if (tag["system"].text() == AFTERSHEATH_BASE "/CodeSystem/writer") brief.writer = tag["code"].text();
  return brief;
}

SubscriptionAbility subscription_ability(const json::Value& statement) {
  SubscriptionAbility ability;
  ability.fhir_version = statement["fhirVersion"].text();
  ability.r5 = ability.fhir_version.starts_with("5.");
  ability.by_topic = names_guide(statement["implementationGuide"]) || names_guide(statement["instantiates"]);
  for (const auto& rest : statement["rest"].items())
    for (const auto& resource : rest["resource"].items())
      if (resource["type"].text() == "Subscription") read_resource(resource, ability);
  ability.by_topic = ability.by_topic || !ability.topics.empty();
  return ability;
}

std::string topic_of(const json::Value& resource) {
  if (resource["resourceType"].text() == "SubscriptionTopic") return std::string(resource["url"].text());
  if (resource["resourceType"].text() != "Basic") return {};
  for (const auto& extension : resource["extension"].items())
    if (const auto url = extension["url"].text(); url.ends_with("SubscriptionTopic.url")) return std::string(extension["valueUri"].text());
  return {};
}

}  // namespace fhir_read
