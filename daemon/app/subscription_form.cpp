#include "app/subscription_form.h"

#include <algorithm>

namespace app {

std::string why_no_subscriptions(const profile::Configuration& configuration) {
  if (configuration.subscriptions.form == "none") return "none is configured";
  if (!configuration.record || configuration.record->mode != "live") return "nothing is written to the record (record.mode)";
  return "";
}

SubscriptionChoice choose_subscriptions(const profile::Configuration& configuration, const fhir_read::SubscriptionAbility& record) {
  const auto& wanted = configuration.subscriptions;
  SubscriptionChoice choice{.form = wanted.form, .why_none = {}, .subjects = {}, .unknown_topics = {}};
  if (choice.form == "auto") {
    if (record.r5 && !wanted.topics.empty()) choice.form = "r5";
    else if (record.by_topic && !wanted.topics.empty()) choice.form = "backport";
    else if (record.may_create && !record.r5) choice.form = "plain";
    else choice.form = "none";
  }
  if (choice.form == "none")
    choice.why_none = record.r5 ? "the record is R5, and subscriptions.topics names no topic" : "the record's CapabilityStatement offers no Subscriptions";
  if (choice.form == "plain") choice.subjects = wanted.criteria;
  if (choice.form != "backport" && choice.form != "r5") return choice;
  choice.subjects = wanted.topics;
  for (const std::string& subject : wanted.topics)
    if (const auto topic = subject.substr(0, subject.find(' ')); !record.topics.empty() && std::ranges::find(record.topics, topic) == record.topics.end()) choice.unknown_topics.push_back(topic);
  return choice;
}

}  // namespace app
