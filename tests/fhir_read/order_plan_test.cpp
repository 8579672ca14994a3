// Orders beside the plan, by code and by words, each from JSON to what it changes. Everything invented.
#include "fhir_read/planned_support.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;
using clinical::Step;
using clinical::StepStatus;

constexpr const char* kDuring = "2026-03-02T12:00:00Z";  // sheath in
constexpr const char* kAfter = "2026-03-02T15:00:00Z";   // T0 was at 14:20

std::string act(const std::string& more) {
  return R"({"resourceType":"Observation","id":"act","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T11:55:00Z",
    "code":{"coding":[{"system":"http://loinc.org","code":"3184-9"}]},"valueQuantity":{"value":121,"system":"http://unitsofmeasure.org","code":"s"},
    "device":{"display":"bench 2"})" + more + "}";
}
std::string service(const std::string& code, const std::string& more, const char* status = "active") {
  return R"({"resourceType":"ServiceRequest","id":"sr","intent":"order","subject":{"reference":"Patient/a"},"authoredOn":"2026-03-02T11:10:00Z","status":")" + std::string(status) +
         R"(","code":)" + code + more + "}";
}
const char* const kBedRest = R"({"text":"Bed rest"})";

TEST(BedRestPlan, the_longer_order_wins_and_the_difference_is_a_conflict) {
  const auto rule = planned(base_case() + pressed(), kAfter);
  const auto by_rule = *step(rule, Step::stand_and_walk).earliest;
  const auto p = planned(base_case() + pressed() + std::vector{service(kBedRest, R"(,"quantityQuantity":{"value":11,"system":"http://unitsofmeasure.org","code":"h"})")}, kAfter);
  EXPECT_EQ(*step(p, Step::stand_and_walk).earliest, instant("2026-03-03T01:20:00Z"));
  EXPECT_GT(*step(p, Step::stand_and_walk).earliest, by_rule);
  ASSERT_TRUE(has_conflict(p, "bed-rest-order"));
  EXPECT_EQ(p.plan.conflicts.front().values.back(), "11 h");
}

TEST(BedRestPlan, a_shorter_order_shortens_nothing_and_is_a_conflict_too) {
  const auto rule = planned(base_case() + pressed(), kAfter);
  const auto p = planned(base_case() + pressed() + std::vector{service(kBedRest, R"(,"quantityQuantity":{"value":2,"system":"http://unitsofmeasure.org","code":"h"})")}, kAfter);
  EXPECT_EQ(step(p, Step::stand_and_walk).earliest, step(rule, Step::stand_and_walk).earliest);
  EXPECT_TRUE(has_conflict(p, "bed-rest-order"));
}

TEST(BedRestPlan, every_form_of_a_length_is_read) {
  const auto by_order = instant("2026-03-03T01:20:00Z");
  for (const char* form : {R"(,"occurrenceTiming":{"repeat":{"duration":11,"durationUnit":"h"}})", R"(,"occurrenceTiming":{"repeat":{"boundsDuration":{"value":660,"system":"http://unitsofmeasure.org","code":"min"}}})",
                           R"(,"occurrencePeriod":{"start":"2026-03-02T14:00:00Z","end":"2026-03-03T01:20:00Z"})", R"(,"orderDetail":[{"text":"flat, leg straight, for 9-11 hours"}])",
                           R"(,"note":[{"text":"11 Std. liegen"}])", R"(,"note":[{"text":"flat for 10.5 h"}])", R"(,"note":[{"text":"10,5 Std. liegen"}])", R"(,"orderDetail":[{"parameter":[{"code":{"text":"length"},"valueQuantity":{"value":11,"system":"http://unitsofmeasure.org","code":"h"}}]}])",
                           R"(,"orderDetail":[{"parameter":[{"code":{"text":"length"},"valueString":"11h"}]}])"}) {
    const auto p = planned(base_case() + pressed() + std::vector{service(kBedRest, form)}, kAfter);
    ASSERT_TRUE(step(p, Step::stand_and_walk).earliest) << form << all_issues(p.read.issues);
    EXPECT_EQ(*step(p, Step::stand_and_walk).earliest, by_order) << form;
  }
  const auto r5 = planned(base_case() + pressed() + std::vector{service(R"({"concept":{"text":"Bed rest"}})", R"(,"quantityQuantity":{"value":11,"system":"http://unitsofmeasure.org","code":"h"})")}, kAfter);
  EXPECT_EQ(*step(r5, Step::stand_and_walk).earliest, by_order) << "code is a CodeableReference in R5";
}

TEST(BedRestPlan, an_order_over_the_longest_without_a_physician_is_a_physicians) {
  const auto p = planned(base_case() + pressed() + std::vector{service(kBedRest, R"(,"quantityQuantity":{"value":24,"system":"http://unitsofmeasure.org","code":"h"})")}, kAfter);
  ASSERT_TRUE(step(p, Step::stand_and_walk).earliest);
  EXPECT_EQ(*step(p, Step::stand_and_walk).earliest, instant("2026-03-03T14:20:00Z"));
}

TEST(BedRestPlan, what_does_not_bind_changes_nothing) {
  const auto rule = planned(base_case() + pressed(), kAfter);
  const std::string eleven = R"(,"quantityQuantity":{"value":11,"system":"http://unitsofmeasure.org","code":"h"})";
  for (const auto& order : {service(kBedRest, eleven, "revoked"), service(kBedRest, eleven, "draft"), service(kBedRest, eleven, "completed"), service(kBedRest, eleven + R"(,"doNotPerform":true)"),
                            service(kBedRest, eleven + R"(,"bodySite":[{"coding":[{"system":"http://snomed.info/sct","code":"113270003"}]}])"),
                            service(R"({"text":"Chest X-ray"})", eleven)}) {
    const auto p = planned(base_case() + pressed() + std::vector{order}, kAfter);
    EXPECT_EQ(step(p, Step::stand_and_walk).earliest, step(rule, Step::stand_and_walk).earliest) << order;
    EXPECT_FALSE(has_conflict(p, "bed-rest-order")) << order;
  }
}

TEST(BedRestPlan, an_order_without_a_length_is_said) {
  const auto p = planned(base_case() + pressed() + std::vector{service(kBedRest, "")}, kAfter);
  EXPECT_TRUE(has_caution(p, "caution.order-without-length"));
  EXPECT_TRUE(has_issue(p.read, "no-length"));
}

const char* const kRemoval = R"({"text":"Remove femoral sheath"})";

// The rest of what an open gate needs: two pressures, a pulse, counts, a check, a word on home drugs.
std::vector<std::string> ready() {
  const auto value = [](const char* id, const char* code, const char* number, const char* unit) {
    return std::string(R"({"resourceType":"Observation","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T11:55:00Z","id":")") + id +
           R"(","code":{"coding":[{"system":"http://loinc.org","code":")" + code + R"("}]},"valueQuantity":{"value":)" + number + R"(,"system":"http://unitsofmeasure.org","code":")" + unit + R"("}})";
  };
  const std::string finding = R"("coding":[{"system":"https://aftersheath.example/fhir/CodeSystem/check-finding","code":")";
  return {act(""), value("plt", "777-3", "210", "10*9/L"), value("hb", "718-7", "13.5", "g/dL"), value("sys", "8480-6", "124", "mm[Hg]"), value("dia", "8462-4", "70", "mm[Hg]"),
          value("hr", "8867-4", "72", "/min"), value("inr", "6301-6", "1.0", "{INR}"),
          R"({"resourceType":"Observation","id":"check","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T11:55:00Z","code":{)" + finding + R"(site-check"}]},"component":[)" +
              "{\"code\":{" + finding + R"(bleeding"}]},"valueCodeableConcept":{)" + finding + "none\"}]}}," + "{\"code\":{" + finding +
              R"(swelling"}]},"valueQuantity":{"value":0,"system":"http://unitsofmeasure.org","code":"cm"}},)" + "{\"code\":{" + finding + R"(growth"}]},"valueBoolean":false},)" + "{\"code\":{" +
              finding + R"(foot-pulse"}]},"valueCodeableConcept":{)" + finding + "as-baseline\"}]}},{\"code\":{" + finding + R"(baseline-pulses"}]},"valueString":"2+ both feet"}]})",
          R"({"resourceType":"Observation","id":"nohome","status":"final","subject":{"reference":"Patient/a"},"effectiveDateTime":"2026-03-02T09:00:00Z","code":{"coding":[
            {"system":"https://aftersheath.example/fhir/CodeSystem/access-statement","code":"no-home-anticoagulant"}]},"valueBoolean":true})"};
}

TEST(RemovalOrderPlan, without_an_order_it_may_come_out) {
  const auto p = planned(base_case() + ready(), kDuring);
  EXPECT_EQ(step(p, Step::remove_sheath).status, StepStatus::due) << all_issues(p.read.issues);
}

TEST(RemovalOrderPlan, an_order_not_to_remove_keeps_it_in) {
  for (const auto& order : {service(kRemoval, R"(,"doNotPerform":true)"), service(kRemoval, "", "on-hold")}) {
    const auto p = planned(base_case() + ready() + std::vector{order}, kDuring);
    const auto& removal = step(p, Step::remove_sheath);
    EXPECT_EQ(removal.status, StepStatus::blocked) << order;
    EXPECT_FALSE(removal.earliest);
    ASSERT_TRUE(removal.why);
    EXPECT_EQ(removal.why->code, order.find("doNotPerform") != std::string::npos ? "removal.order-negated" : "removal.order-suspended");
    EXPECT_EQ(step(p, Step::confirm_readiness).status, StepStatus::blocked);
  }
}

std::string held_by(const std::string& order) {
  const auto p = planned(base_case() + ready() + std::vector{order}, kDuring);
  const auto& removal = step(p, Step::remove_sheath);
  EXPECT_EQ(removal.status == StepStatus::due, removal.why && removal.why->code == "removal.due") << order;
  return !removal.why || removal.why->arguments.empty() ? "" : removal.why->code + ": " + std::get<std::string>(removal.why->arguments.front().second);
}

// The texts are those of invented orders; whatever cannot be read holds, and says so in its own words.
TEST(RemovalOrderPlan, words_hold_the_sheath_and_are_given_as_written) {
  EXPECT_EQ(held_by(service(R"({"text":"Do not remove the sheath tonight"})", R"(,"doNotPerform":true)")), "removal.order-forbids: Do not remove the sheath tonight");
  EXPECT_EQ(held_by(service(R"({"text":"Leave sheath in place until 18:00"})", "")), "removal.order-forbids: Leave sheath in place until 18:00");
  EXPECT_EQ(held_by(service(R"({"text":"Post PCI orders"})", R"(,"note":[{"text":"Pulses every 15 min. Do NOT pull sheath before surgeon review"}])")),
            "removal.order-forbids: Post PCI orders: Do NOT pull sheath before surgeon review");
  EXPECT_EQ(held_by(service(R"({"text":"Schleuse bis zur Visite belassen"})", "")), "removal.order-forbids: Schleuse bis zur Visite belassen");
  EXPECT_EQ(held_by(service(R"({"text":"Femoral sheath removal"})", R"(,"doNotPerform":true)")), "removal.order-negated: Femoral sheath removal");
  EXPECT_EQ(held_by(service(R"({"text":"Sheath removal after CT"})", "")), "removal.order-unclear: Sheath removal after CT");
  EXPECT_EQ(held_by(service(kRemoval, R"(,"patientInstruction":"only when a physician is at the bed")")), "removal.order-unclear: Remove femoral sheath: only when a physician is at the bed");
  EXPECT_EQ(held_by(service(kRemoval, R"(,"note":[{"text":"record the foot pulses"}])")), "");
  EXPECT_EQ(held_by(service(R"({"text":"Vital signs every 15 min after sheath removal"})", "")), "");
}

TEST(RemovalOrderPlan, a_time_in_the_order_is_waited_for_by_any_name_of_the_removal) {
  const auto p = planned(base_case() + ready() + std::vector{service(R"({"text":"Removal of femoral arterial sheath"})", R"(,"occurrencePeriod":{"start":"2026-03-02T18:00:00Z"})")}, kDuring);
  EXPECT_EQ(step(p, Step::remove_sheath).expected, instant("2026-03-02T18:00:00Z"));
  EXPECT_FALSE(step(p, Step::remove_sheath).earliest);
}

TEST(RemovalOrderPlan, the_acts_limit_of_the_order_counts_beside_our_own) {  // the ACT of the case is 121 s
  EXPECT_EQ(held_by(service(R"({"text":"Sheath removal at ACT < 180 s"})", "")), "") << "ours is the stricter";
  EXPECT_EQ(held_by(service(R"({"text":"Sheath removal at ACT < 120 s"})", "")), "removal.order-act: Sheath removal at ACT < 120 s");
  EXPECT_EQ(held_by(service(R"({"text":"Sheath removal at ACT < 121 s"})", "")), "removal.order-act: Sheath removal at ACT < 121 s") << "at the limit is not under it";
  EXPECT_EQ(held_by(service(R"({"text":"Sheath removal at ACT < 122 s"})", "")), "");
}

TEST(RemovalOrderPlan, what_only_names_the_sheath_is_shown) {
  const auto p = planned(base_case() + ready() + std::vector{service(R"({"text":"Flush sheath every hour"})", "")}, kDuring);
  EXPECT_TRUE(has_caution(p, "caution.order-names-sheath"));
  EXPECT_EQ(step(p, Step::remove_sheath).status, StepStatus::due);
  EXPECT_FALSE(has_caution(planned(base_case() + pressed() + std::vector{service(R"({"text":"Flush sheath every hour"})", "")}, kAfter), "caution.order-names-sheath")) << "it is out";
}

TEST(BedRestPlan, an_end_in_words_that_cannot_be_read_is_asked_about) {
  for (const char* text : {"Bed rest until tomorrow morning", "Flat until seen by doctor", "Strikte Bettruhe bis morgen", "Repos au lit jusqu'à demain matin", "Reposo absoluto hasta mañana", "Leżeć do rana", "راحة في السرير حتى الصباح"}) {
    const auto p = planned(base_case() + pressed() + std::vector{service(std::string(R"({"text":")") + text + "\"}", "")}, kAfter);
    const auto& walk = step(p, Step::stand_and_walk);
    EXPECT_EQ(walk.status, StepStatus::blocked) << text;
    EXPECT_FALSE(walk.earliest) << text;
    ASSERT_TRUE(walk.why) << text;
    EXPECT_EQ(walk.why->code, "rest.ask-order") << text;
    EXPECT_TRUE(has_issue(p.read, "unread-end")) << text;
  }
  const auto note = planned(base_case() + pressed() + std::vector{service(R"({"text":"Post PCI orders"})", R"(,"note":[{"text":"flat until morning"}])")}, kAfter);
  EXPECT_EQ(std::get<std::string>(step(note, Step::stand_and_walk).why->arguments.front().second), "Post PCI orders: flat until morning");
}

TEST(RemovalOrderPlan, an_order_for_later_is_waited_for) {
  const auto p = planned(base_case() + ready() + std::vector{service(kRemoval, R"(,"occurrenceDateTime":"2026-03-02T18:00:00Z")")}, kDuring);
  const auto& removal = step(p, Step::remove_sheath);
  EXPECT_EQ(removal.status, StepStatus::blocked) << "by 18:00 what was measured is stale: it permits nothing on its own";
  EXPECT_FALSE(removal.earliest);
  EXPECT_EQ(removal.expected, instant("2026-03-02T18:00:00Z"));
  const auto soon = planned(base_case() + ready() + std::vector{service(kRemoval, R"(,"occurrenceDateTime":"2026-03-02T11:30:00Z")")}, kDuring);
  EXPECT_EQ(step(soon, Step::remove_sheath).status, StepStatus::due) << "an order opens nothing and holds nothing back once its time has come";
}

TEST(RemovalOrderPlan, an_order_opens_no_gate) {
  const auto p = planned(base_case() + std::vector{service(kRemoval, "")}, kDuring);
  EXPECT_NE(step(p, Step::remove_sheath).status, StepStatus::due);
}

}  // namespace
