// What is recorded without a usable time, or for a Procedure that is none of ours, is not lost: what is bad in it counts, what is good opens nothing, and it is named.
// Clinical model, laws 2 and 3: what is unknown is never normal, and what cannot be read holds. FHIR R4: Observation.effective[x] and .issued are both optional, and
// an effectiveDateTime without a time zone is no FHIR dateTime where it has a clock time (datatypes, dateTime).
#include "fhir_read/planned_support.h"

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

namespace {

using namespace reading_test;
using clinical::AlertLevel;
using clinical::GateName;
using clinical::GateState;
using clinical::Step;

constexpr const char* kFinding = "https://aftersheath.example/fhir/CodeSystem/check-finding";
constexpr const char* kNow = "2026-03-03T02:25:00Z";  // T0 was at 14:20
constexpr const char* kOfOurs = R"("partOf":[{"reference":"Procedure/p"}],)";

std::string check(const std::string& id, std::string_view members, std::string_view bleeding = "none") {
  const auto coded = [](const char* what, std::string_view said) {
    return fmt::format(R"({{"code":{{"coding":[{{"system":"{0}","code":"{1}"}}]}},"valueCodeableConcept":{{"coding":[{{"system":"{0}","code":"{2}"}}]}}}})", kFinding, what, said);
  };
  return fmt::format(R"({{"resourceType":"Observation","id":"{}","status":"final","subject":{{"reference":"Patient/a"}},{}"code":{{"coding":[{{"system":"{}","code":"site-check"}}]}},
    "component":[{},{},{{"code":{{"coding":[{{"system":"{}","code":"swelling"}}]}},"valueQuantity":{{"value":0,"system":"http://unitsofmeasure.org","code":"cm"}}}},
    {{"code":{{"coding":[{{"system":"{}","code":"growth"}}]}},"valueBoolean":false}},
    {{"code":{{"coding":[{{"system":"{}","code":"baseline-pulses"}}]}},"valueString":"2+"}}]}})",
                     id, members, kFinding, coded("bleeding", bleeding), coded("foot-pulse", "as-baseline"), kFinding, kFinding, kFinding);
}
std::string lab(const std::string& id, const char* loinc, const char* value, const char* unit, std::string_view members) {
  return fmt::format(R"({{"resourceType":"Observation","id":"{}","status":"final","subject":{{"reference":"Patient/a"}},{}"code":{{"coding":[{{"system":"http://loinc.org","code":"{}"}}]}},
    "valueQuantity":{{"value":{},"system":"http://unitsofmeasure.org","code":"{}"}}}})", id, members, loinc, value, unit);
}
std::string timed(const char* at) { return fmt::format(R"("effectiveDateTime":"2026-03-{}:00Z",)", at); }

// All is well at 02:25, and the patient may walk.
std::vector<std::string> at_rest() {
  auto all = base_case() + pressed() + std::vector<std::string>{lab("bp", "8480-6", "126", "mm[Hg]", timed("03T02:20")), lab("dia", "8462-4", "70", "mm[Hg]", timed("03T02:20")),
                                                                lab("hr", "8867-4", "68", "/min", timed("03T02:20"))};
  for (int minute = 14 * 60 + 35; minute <= 26 * 60 + 20; minute += 15)  // all looks that are due, and more
    all.push_back(check(fmt::format("look-{}", minute), timed(fmt::format("{:02}T{:02}:{:02}", 2 + minute / 1440, minute / 60 % 24, minute % 60).c_str())));
  return all;
}
// The sheath is in, and all is well at 14:00.
std::vector<std::string> sheath_in() {
  return base_case() + std::vector<std::string>{check("well", timed("02T13:50")), lab("bp", "8480-6", "126", "mm[Hg]", timed("02T13:50")), lab("dia", "8462-4", "70", "mm[Hg]", timed("02T13:50")),
                                                lab("hr", "8867-4", "68", "/min", timed("02T13:50")), lab("act", "3184-9", "140", "s", timed("02T13:50"))};
}

const clinical::Alert* alert(const Planned& p, std::string_view trigger) {
  const auto it = std::ranges::find(p.plan.alerts, trigger, &clinical::Alert::trigger);
  return it == p.plan.alerts.end() ? nullptr : &*it;
}
bool names(const clinical::Alert* alert, const char* source) {
  return alert && std::ranges::any_of(alert->inputs, [&](const clinical::Source& s) { return s.reference == source; });
}

// The times that a check or value may have in place of one that can be used; what may be told of it is the time of writing.
const std::pair<const char*, const char*> kNoTimes[] = {
    {"none at all", ""},
    {"issued alone", R"("issued":"2026-03-03T02:22:00Z",)"},
    {"lastUpdated alone", R"("meta":{"lastUpdated":"2026-03-03T02:22:00Z"},)"},
    {"a timing", R"("effectiveTiming":{"event":["2026-03-03T02:22:00Z"]},"issued":"2026-03-03T02:22:00Z",)"},
    {"no zone", R"("effectiveDateTime":"2026-03-03T02:22:00",)"},
    {"no zone, and lastUpdated", R"("effectiveDateTime":"2026-03-03T02:22:00","meta":{"lastUpdated":"2026-03-03T02:22:00Z"},)"}};

TEST(NothingVanishes, a_check_without_a_time_that_shows_trouble_counts) {
  EXPECT_EQ(step(planned(at_rest(), kNow), Step::stand_and_walk).status, clinical::StepStatus::due) << "all is well without it";
  for (const auto& [name, time] : kNoTimes) {
    const auto p = planned(at_rest() + std::vector<std::string>{check("odd", std::string(kOfOurs) + time, "bleeding")}, kNow);
    const auto* bleeds = alert(p, "site-bleeding");
    ASSERT_TRUE(bleeds) << name;
    EXPECT_EQ(bleeds->level, AlertLevel::emergency);
    EXPECT_TRUE(names(bleeds, "Observation/odd")) << name;
    EXPECT_TRUE(names(alert(p, "check-unread"), "Observation/odd")) << name;
    EXPECT_NE(step(p, Step::stand_and_walk).status, clinical::StepStatus::due) << name;
    const auto in = planned(sheath_in() + std::vector<std::string>{check("odd", time == std::string_view() ? "" : R"("issued":"2026-03-02T13:55:00Z",)", "bleeding")}, "2026-03-02T14:00:00Z");
    EXPECT_EQ(gate(in, GateName::site_status)->state, GateState::closed) << name;
  }
}

TEST(NothingVanishes, a_good_check_without_a_time_is_no_check) {
  for (const auto& [name, time] : kNoTimes) {
    const auto p = planned(at_rest() + std::vector<std::string>{check("odd", std::string(kOfOurs) + time)}, kNow);
    const auto* unread = alert(p, "check-unread");
    ASSERT_TRUE(unread) << name;
    EXPECT_EQ(unread->level, AlertLevel::urgent);
    EXPECT_TRUE(names(unread, "Observation/odd")) << name;
    EXPECT_EQ(step(p, Step::stand_and_walk).why->code, "rest.check-unread") << name;
  }
  const auto later = planned(at_rest() + std::vector<std::string>{check("odd", R"("issued":"2026-03-03T02:15:00Z",)")}, kNow);
  EXPECT_FALSE(alert(later, "check-unread")) << "a whole look that was surely made later replaces it";
}

TEST(NothingVanishes, a_check_counts_at_the_end_of_its_period) {
  const auto period = R"("effectivePeriod":{"start":"2026-03-03T01:00:00Z","end":"2026-03-03T02:22:00Z"},)";
  const auto p = planned(at_rest() + std::vector<std::string>{check("dry", timed("03T01:30")), check("long", period, "bleeding")}, kNow);
  ASSERT_TRUE(alert(p, "site-bleeding"));
  EXPECT_EQ(p.read.record.checks.back().at->latest, instant("2026-03-03T02:22:00Z"));
  EXPECT_TRUE(p.read.record.checks.back().at->exact());
}

TEST(NothingVanishes, a_value_without_a_time_is_not_stood_in_for_by_an_older_one) {
  for (const auto& [name, time] : kNoTimes) {
    std::string in_time = time;  // the same, of the afternoon before
    for (auto at = in_time.find("03T02:22"); at != std::string::npos; at = in_time.find("03T02:22")) in_time.replace(at, 8, "02T13:55");
    const auto act = planned(sheath_in() + std::vector<std::string>{lab("odd", "3184-9", "300", "s", in_time)}, "2026-03-02T14:00:00Z");
    EXPECT_EQ(gate(act, GateName::act)->state, GateState::needs) << name;
    const auto pressure = planned(sheath_in() + std::vector<std::string>{lab("odd", "8480-6", "200", "mm[Hg]", in_time)}, "2026-03-02T14:00:00Z");
    EXPECT_EQ(gate(pressure, GateName::blood_pressure)->state, GateState::needs) << name;
    const auto low = planned(at_rest() + std::vector<std::string>{lab("odd", "8480-6", "74", "mm[Hg]", time)}, kNow);
    EXPECT_EQ(step(low, Step::stand_and_walk).why->code, "rest.unusable-value") << name;
  }
  EXPECT_EQ(gate(planned(sheath_in(), "2026-03-02T14:00:00Z"), GateName::act)->state, GateState::open) << "without it";
}

TEST(NothingVanishes, a_check_for_another_procedure_is_told_and_its_trouble_counts) {
  for (const char* named : {R"("partOf":[{"reference":"Procedure/nobody-knows"}],)", R"("focus":[{"reference":"Procedure/dressing"},{"reference":"Procedure/p"}],)"}) {
    const auto bad = planned(at_rest() + std::vector<std::string>{check("odd", named + timed("03T02:22"), "bleeding")}, kNow);
    const auto* found = alert(bad, "check-without-site");
    ASSERT_TRUE(found) << named;
    EXPECT_EQ(found->level, AlertLevel::emergency);
    EXPECT_TRUE(names(found, "Observation/odd"));
    EXPECT_TRUE(has_conflict(bad, "check-without-site"));
    const auto good = planned(at_rest() + std::vector<std::string>{check("odd", named + timed("03T02:22"))}, kNow);
    EXPECT_TRUE(names(alert(good, "check-without-site"), "Observation/odd")) << named;
    EXPECT_EQ(step(good, Step::stand_and_walk).status, clinical::StepStatus::due) << "nothing is withheld for a good one";
  }
}

std::string finished(const char* end) {
  return fmt::format(R"({{"resourceType":"Encounter","id":"e","status":"finished","subject":{{"reference":"Patient/a"}},"period":{{"start":"2026-03-02T08:00:00Z","end":"{}"}}}})", end);
}

TEST(NothingVanishes, trouble_after_the_recorded_end_of_the_stay_is_an_alarm) {
  auto ended = at_rest();
  ended[1] = finished("2026-03-03T02:21:00Z");
  EXPECT_EQ(planned(ended, kNow).plan.state, clinical::CaseState::finished);
  const auto p = planned(ended + std::vector<std::string>{check("odd", timed("03T02:24"), "bleeding")}, kNow);
  ASSERT_TRUE(alert(p, "site-bleeding"));
  EXPECT_EQ(alert(p, "site-bleeding")->level, AlertLevel::emergency);
  EXPECT_EQ(planned(ended + std::vector<std::string>{check("dry", timed("03T02:24"))}, kNow).plan.state, clinical::CaseState::finished) << "a good one changes nothing";
}

TEST(NothingVanishes, a_rebleed_of_unknown_status_counts) {
  for (const char* status : {R"("status":"unknown",)", ""}) {
    const auto p = planned(at_rest() + std::vector<std::string>{fmt::format(R"({{"resourceType":"Procedure","id":"again",{}"subject":{{"reference":"Patient/a"}},"partOf":[{{"reference":"Procedure/p"}}],
      "code":{{"coding":[{{"system":"https://aftersheath.example/fhir/CodeSystem/access-event","code":"rebleed"}}]}},"performedDateTime":"2026-03-03T01:00:00Z"}})", status)}, kNow);
    EXPECT_TRUE(alert(p, "rebleed"));
    EXPECT_NE(step(p, Step::stand_and_walk).status, clinical::StepStatus::due);
  }
}

}  // namespace
