// What records say of Subscriptions: the official examples, and CapabilityStatements after the backport guide.
#include "fhir_read/subscription_brief.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "fhir_read/reading_support.h"

namespace {

using testing::ElementsAre;

TEST(SubscriptionBrief, OfR4AndR5) {
  const auto r4 = fhir_read::subscription_brief(reading_test::resource(R"({"resourceType":"Subscription","id":"a","meta":{"versionId":"3","tag":[{"system":"x","code":"y"},
    {"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"inst"}]},"status":"error","error":"no answer","end":"2026-03-09T13:00:00Z","criteria":"Task?",
    "channel":{"type":"rest-hook","endpoint":"https://a.example/hook"}})"));
  ASSERT_TRUE(r4);
  EXPECT_EQ(r4->id + r4->version + r4->status + r4->endpoint + r4->subject + r4->error + r4->writer, "a3errorhttps://a.example/hookTask?no answerinst");
  const auto r5 = fhir_read::subscription_brief(reading_test::resource(R"({"resourceType":"Subscription","id":"b","status":"active","topic":"https://r.example/t","endpoint":"https://a.example/hook"})"));
  ASSERT_TRUE(r5);
  EXPECT_EQ(r5->endpoint + r5->subject + r5->writer, "https://a.example/hookhttps://r.example/t");
  EXPECT_FALSE(fhir_read::subscription_brief(reading_test::resource(R"({"resourceType":"Subscription","status":"active"})")));
}

fhir_read::SubscriptionAbility ability(const std::string& resource, const std::string& more = "") {
  return fhir_read::subscription_ability(reading_test::resource(R"({"resourceType":"CapabilityStatement","fhirVersion":"4.0.1",)" + more + R"("rest":[{"resource":[{"type":"Task"})" + resource + "]}]}"));
}

TEST(SubscriptionAbility, IsReadFromTheCapabilityStatement) {
  EXPECT_FALSE(ability("").listed);
  EXPECT_FALSE(ability("").may_create);
  EXPECT_TRUE(ability(R"(,{"type":"Subscription","interaction":[{"code":"create"}]})").may_create);
  EXPECT_FALSE(ability(R"(,{"type":"Subscription","interaction":[{"code":"read"}]})").may_create);
  EXPECT_TRUE(ability(R"(,{"type":"Subscription"})").may_create) << "it lists none";
  EXPECT_FALSE(ability(R"(,{"type":"Subscription"})").by_topic);
  EXPECT_TRUE(ability(R"(,{"type":"Subscription","supportedProfile":["http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/backport-subscription"]})").by_topic);
  EXPECT_TRUE(ability("", R"("implementationGuide":["http://hl7.org/fhir/uv/subscriptions-backport/ImplementationGuide/hl7.fhir.uv.subscriptions-backport"],)").by_topic);
  EXPECT_TRUE(ability("", R"("instantiates":["http://hl7.org/fhir/uv/subscriptions-backport/CapabilityStatement/backport-subscription-server-r4"],)").by_topic);
  const auto named = ability(R"(,{"type":"Subscription","extension":[{"url":"http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/capabilitystatement-subscriptiontopic-canonical",
    "valueCanonical":"https://r.example/t"}]})");
  EXPECT_TRUE(named.by_topic);
  EXPECT_THAT(named.topics, ElementsAre("https://r.example/t"));
}

TEST(SubscriptionTopic, IsABasicInR4) {
  EXPECT_EQ(fhir_read::topic_of(reading_test::resource(R"({"resourceType":"Basic","extension":[{"url":"http://hl7.org/fhir/5.0/StructureDefinition/extension-SubscriptionTopic.url","valueUri":"https://r.example/t"}]})")), "https://r.example/t");
  EXPECT_EQ(fhir_read::topic_of(reading_test::resource(R"({"resourceType":"SubscriptionTopic","url":"https://r.example/t"})")), "https://r.example/t");
  EXPECT_EQ(fhir_read::topic_of(reading_test::resource(R"({"resourceType":"Basic"})")), "");
}

}  // namespace
