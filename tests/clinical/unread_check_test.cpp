// A newer look at the groin counts, also where part of it cannot be read or is missing: "newest value of each test counts, not an older one" (the model).
// Cases are invented.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Argument said_of(const Reason& why, std::string_view name) {
  for (const auto& [key, value] : why.arguments)
    if (key == name) return value;
  ADD_FAILURE() << why.code << " has no " << name;
  return std::string();
}

struct Open {
  const char* name;
  std::function<void(SiteCheck&)> change;
  const char* what;   // none where nothing is unread
};
const Open kOpen[] = {
    {"words for blood", [](SiteCheck& c) { c.bleeding.reset(), c.unread = {{"bleeding", "fresh blood oozing at sheath"}}; }, "@finding.bleeding"},
    {"a size without unit", [](SiteCheck& c) { c.swelling.reset(), c.unread = {{"swelling", "7"}}; }, "@finding.swelling"},
    {"words for the pulse", [](SiteCheck& c) { c.foot_pulse.reset(), c.unread = {{"foot-pulse", "no pulse felt"}}; }, "@finding.foot-pulse"},
    {"a finding beside four that are read", [](SiteCheck& c) { c.unread = {{"wet-dressing", "soaked"}}; }, "@finding.wet-dressing"},
    {"a code that nobody here knows", [](SiteCheck& c) { c.unread = {{"haematoma", "large"}}; }, "@finding.other"},
    {"chest pain in words", [](SiteCheck& c) { c.unread = {{"chest-pain", "yes"}}; }, "@finding.chest-pain"},
    {"a stroke in words", [](SiteCheck& c) { c.unread = {{"neurological-sign", "left arm weak"}}; }, "@finding.neurological-sign"},
    {"a score in words", [](SiteCheck& c) { c.unread = {{"pain", "9/10"}}; }, "@finding.pain"},
    {"words for a foot", [](SiteCheck& c) { c.unread = {{"colour", "white"}, {"feeling", "numb"}}; }, "@finding.colour,finding.feeling"},
    {"two parts", [](SiteCheck& c) { c.bleeding.reset(), c.swelling.reset(), c.unread = {{"bleeding", "soaked"}, {"swelling", "6"}}; }, "@finding.bleeding,finding.swelling"},
    {"no pulse", [](SiteCheck& c) { c.foot_pulse.reset(); }, nullptr},
    {"growth not asked", [](SiteCheck& c) { c.growth.reset(); }, nullptr},
};

TEST(UnreadCheck, AnOlderCheckDoesNotOpenTheGateForANewerThatCannotBeReadWhole) {
  for (const auto& open : kOpen) {
    auto bed = ready();
    open.change(bed.check(hm(15, 3)));
    const auto gate = bed.gate(GateName::site_status, hm(15, 4));
    ASSERT_TRUE(gate) << open.name;
    EXPECT_EQ(gate->state, GateState::needs) << open.name;
    EXPECT_EQ(gate->why.code, open.what ? "gate.site-status.unread" : "gate.site-status.incomplete") << open.name;
    if (open.what) {
      EXPECT_EQ(said_of(gate->why, "what"), Argument{std::string(open.what)}) << open.name;
    }
    EXPECT_EQ(std::ranges::count(gate->needs, Fact::site_check), 1) << open.name;
    bed.check(hm(15, 5));
    EXPECT_EQ(bed.state_of(GateName::site_status, hm(15, 6)), GateState::open) << open.name << ": a whole one after it";
  }
}

TEST(UnreadCheck, ItsWordsAreSaidAsRecorded) {
  auto bed = ready();
  bed.check(hm(15, 3)).unread = {{"bleeding", "soaked"}, {"swelling", "4 x 6 cm"}};
  EXPECT_EQ(said_of(bed.gate(GateName::site_status, hm(15, 4))->why, "said"), Argument{std::string("soaked; 4 x 6 cm")});
}

TEST(UnreadCheck, WhatCanBeReadInItCounts) {
  auto bed = ready();
  auto& check = bed.check(hm(15, 3));
  check.bleeding = Bleeding::bleeding;
  check.swelling.reset();
  check.unread = {{"swelling", "like an egg"}};
  EXPECT_EQ(bed.state_of(GateName::site_status, hm(15, 4)), GateState::closed);
}

TEST(UnreadCheck, OfOneInstantWhatCannotBeReadWinsAndBitsDoNot) {
  auto bed = ready();  // checked at 15:00
  auto& bit = bed.check(hm(15));
  bit.bleeding.reset(), bit.swelling.reset(), bit.growth.reset();
  EXPECT_EQ(bed.state_of(GateName::site_status, hm(15, 1)), GateState::open) << "one of its findings recorded by itself";
  bed.check(hm(15)).unread = {{"bleeding", "soaked"}};
  EXPECT_EQ(bed.state_of(GateName::site_status, hm(15, 1)), GateState::needs);
}

TEST(UnreadCheck, WhatIsNoLookAtBloodSwellingOrPulseTakesNothingAway) {
  auto bed = ready();
  auto& warm = bed.check(hm(15, 3));
  warm.bleeding.reset(), warm.swelling.reset(), warm.growth.reset(), warm.foot_pulse.reset();
  warm.warmth = FootPulse::as_baseline;
  EXPECT_EQ(bed.state_of(GateName::site_status, hm(15, 4)), GateState::open);
}

class UnreadAtWalk : public testing::Test {
 protected:
  UnreadAtWalk() {
    chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));  // up at 21:25
    chart.check(hm(21, 20));
    chart.pressure(120, hm(21, 20));
  }
  const Milestone& walk() { return step(plan = chart.plan(hm(21, 30)), Step::stand_and_walk); }
  Chart chart;
  CasePlan plan;
};

TEST_F(UnreadAtWalk, NobodyGetsUpOnAnOlderCheck) {
  ASSERT_EQ(walk().status, StepStatus::due);
  for (const auto& open : kOpen) {
    const auto kept = chart.record.checks;
    open.change(chart.check(hm(21, 24)));
    EXPECT_EQ(walk().status, StepStatus::blocked) << open.name;
    EXPECT_EQ(walk().why->code, open.what ? "rest.check-unread" : "rest.check-not-fresh") << open.name;
    EXPECT_EQ(std::ranges::count(plan.alerts, "check-unread", &Alert::trigger), open.what ? 1 : 0) << open.name;
    chart.check(hm(21, 26));
    EXPECT_EQ(walk().status, StepStatus::due) << open.name;
    EXPECT_EQ(std::ranges::count(plan.alerts, "check-unread", &Alert::trigger), 0) << open.name;
    chart.record.checks = kept;
  }
}

TEST_F(UnreadAtWalk, ItIsUrgent) {
  chart.check(hm(21, 24)).unread = {{"neurological-sign", "left arm weak"}};
  walk();
  const auto found = std::ranges::find(plan.alerts, "check-unread", &Alert::trigger);
  ASSERT_NE(found, plan.alerts.end());
  EXPECT_EQ(found->level, AlertLevel::urgent);
}

// The newest value counts, also where nobody can read it: as at the pull.
TEST_F(UnreadAtWalk, NobodyGetsUpOnAnOlderValueThanOneThatCannotBeUsed) {
  struct Row {
    Analyte analyte;
    double good;
    const char *recorded, *what;
  };
  for (const auto& row : {Row{Analyte::systolic, 120, "82", "@analyte.systolic"}, Row{Analyte::haemoglobin, 13, "6.8", "@analyte.haemoglobin"}, Row{Analyte::act, 130, "320", "@analyte.act"}}) {
    const auto kept = chart.record.measurements;
    for (const bool impossible : {false, true}) {
      auto& bad = chart.lab(row.analyte, 0, hm(21, 24));
      bad.value.reset();
      (impossible ? bad.impossible : bad.unread) = row.recorded;
      ASSERT_EQ(walk().status, StepStatus::blocked) << row.what;
      ASSERT_EQ(walk().why->code, "rest.unusable-value") << row.what;
      EXPECT_EQ(said_of(*walk().why, "what"), Argument{std::string(row.what)});
      EXPECT_EQ(said_of(*walk().why, "value"), (Argument{Value{0, Comparator::none, row.recorded}}));
      chart.record.measurements = kept;
    }
    chart.lab(row.analyte, 0, hm(21, 24)).value.reset();
    ASSERT_EQ(walk().status, StepStatus::blocked) << row.what;
    EXPECT_EQ(walk().why->code, "rest.unusable-value") << row.what << ": absent with a reason";
    chart.lab(row.analyte, row.good, hm(21, 24));
    EXPECT_EQ(walk().status, StepStatus::blocked) << row.what << ": of one instant it is not known";
    chart.lab(row.analyte, row.good, hm(21, 26));
    EXPECT_EQ(walk().status, StepStatus::due) << row.what << ": measured again";
    chart.record.measurements = kept;
  }
}

TEST_F(UnreadAtWalk, AnActFromBeforeHaemostasisSaysNothingOfTheRest) {
  chart.lab(Analyte::act, 0, hm(15, 10)).value.reset();
  EXPECT_EQ(walk().status, StepStatus::due);
}

TEST_F(UnreadAtWalk, BloodInOneOfTwoLooksOfTheSameMinuteKeepsThePatientFlat) {
  for (const bool first : {true, false}) {
    const auto kept = chart.record.checks;
    chart.check(hm(21, 26)).bleeding = first ? Bleeding::bleeding : Bleeding::none;
    chart.check(hm(21, 26)).bleeding = first ? Bleeding::none : Bleeding::bleeding;
    EXPECT_EQ(walk().why->code, "rest.not-dry") << first;
    chart.record.checks = kept;
  }
}

}  // namespace
}  // namespace clinical
