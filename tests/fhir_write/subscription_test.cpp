// Subscriptions of ours in three forms, and what a record says of Subscriptions.
#include "fhir_write/subscription.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

using fhir_write::SubscriptionForm;
using testing::HasSubstr;
using testing::Not;

fhir_write::SubscriptionWish wish(SubscriptionForm form, const std::string& subject) {
  fhir_write::SubscriptionWish out;
  out.form = form;
  out.subject = subject;
  out.endpoint = "https://a.example/fhir/hook/record/as-x-1";
  out.header = "X-Sender-Key";
  out.secret = "invented";
  out.payload = form == SubscriptionForm::plain ? "full-resource" : "id-only";
  out.end = "2026-03-09T13:00:00Z";
  out.contact = "mailto:integration@hospital.example";
  out.installation = "x";
  out.heartbeat_seconds = 60;
  return out;
}

TEST(Subscription, OfPlainR4) {
  auto w = wish(SubscriptionForm::plain, "Task?");
  EXPECT_EQ(json::write(fhir_write::subscription(w)),
            R"({"resourceType":"Subscription","meta":{"tag":[{"system":"https://aftersheath.example/fhir/CodeSystem/writer","code":"x"}]},"status":"requested",)"
            R"("contact":[{"system":"email","value":"integration@hospital.example"}],"end":"2026-03-09T13:00:00Z",)"
            R"("reason":"Aftercare of the femoral access site: plans are kept in step with what is recorded","criteria":"Task?",)"
            R"("channel":{"type":"rest-hook","endpoint":"https://a.example/fhir/hook/record/as-x-1","payload":"application/fhir+json","header":["X-Sender-Key: invented"]}})");
  w.payload = "empty";
  w.contact.clear();
  w.test_data = true;
  const auto empty = json::write(fhir_write::subscription(w));
  EXPECT_THAT(empty, Not(HasSubstr("payload")));
  EXPECT_THAT(empty, Not(HasSubstr("contact")));
  EXPECT_THAT(empty, HasSubstr("HTEST"));
}

TEST(Subscription, OfTheBackportWithTopicFilterAndExtensions) {
  const auto out = fhir_write::subscription(wish(SubscriptionForm::backport, "https://r.example/topic/case Procedure?code=1&date=ge2026"));
  EXPECT_EQ(out["criteria"].text(), "https://r.example/topic/case");
  EXPECT_EQ(out["_criteria"]["extension"].at(0)["valueString"].text(), "Procedure?code=1&date=ge2026");
  EXPECT_EQ(out["channel"]["_payload"]["extension"].at(0)["valueCode"].text(), "id-only");
  const auto text = json::write(out["channel"]["extension"]);
  EXPECT_THAT(text, HasSubstr(R"(backport-heartbeat-period","valueUnsignedInt":60)"));
  EXPECT_THAT(text, HasSubstr(R"(backport-max-count","valuePositiveInt":20)"));
  EXPECT_FALSE(fhir_write::subscription(wish(SubscriptionForm::backport, "https://r.example/topic/case")).has("_criteria"));
}

TEST(Subscription, OfR5) {
  const auto out = fhir_write::subscription(wish(SubscriptionForm::r5, "https://r.example/topic/case Observation?code:in=v&category=laboratory"));
  EXPECT_EQ(out["topic"].text(), "https://r.example/topic/case");
  EXPECT_EQ(json::write(out["filterBy"]), R"([{"resourceType":"Observation","filterParameter":"code","modifier":"in","value":"v"},)"
                                          R"({"resourceType":"Observation","filterParameter":"category","value":"laboratory"}])");
  EXPECT_EQ(json::write(out["parameter"]), R"([{"name":"X-Sender-Key","value":"invented"}])");
  EXPECT_EQ(out["content"].text(), "id-only");
  EXPECT_EQ(out["heartbeatPeriod"].integer(), 60);
  EXPECT_FALSE(out.has("channel"));
}

TEST(Subscription, SwitchedOffItStaysWhatItWas) {
  auto out = fhir_write::subscription(wish(SubscriptionForm::plain, "Task?"));
  out.set("error", "no answer");
  const auto off = fhir_write::switched_off(out);
  EXPECT_EQ(off["status"].text(), "off");
  EXPECT_FALSE(off.has("error"));
  EXPECT_EQ(off["criteria"].text(), "Task?");
}

}  // namespace
