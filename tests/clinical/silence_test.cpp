// An emergency does not end by silence, nor by one look that two people charted. Cases are invented; two normal values end an episode (the model), what counts as
// normal here is common practice, no source.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

/// Sheath in, and every gate open at 15:01.
Chart ready_at_three() {
  auto chart = intervention_chart(6);
  chart.pressure(128, hm(15));
  chart.lab(Analyte::heart_rate, 70, hm(15));
  chart.check(hm(14, 59));
  chart.check(hm(15));
  chart.lab(Analyte::act, 140, hm(15));
  return chart;
}

class Silence : public testing::Test {
 protected:
  Silence() {
    chart = intervention_chart(6);
    pull_at(chart, hm(15, 12));
    chart.event(haemostasis_confirmed, hm(15, 32));
  }
  bool stands(const char* trigger, Instant now = hm(16, 40)) {
    const auto plan = chart.plan(now);
    return std::ranges::find(plan.alerts, trigger, &Alert::trigger) != plan.alerts.end();
  }
  void vital_signs(double systolic, double rate, Instant at) {
    chart.lab(Analyte::systolic, systolic, at);
    chart.lab(Analyte::heart_rate, rate, at);
  }
  Chart chart;
};

TEST_F(Silence, OneLookChartedTwiceIsOneNormalValue) {
  chart.check(hm(15, 58)).foot_pulse = FootPulse::absent;
  chart.check(hm(16, 10));
  chart.check(hm(16, 10));
  EXPECT_TRUE(stands("limb-ischaemia"));
  chart.check(hm(16, 20));
  EXPECT_FALSE(stands("limb-ischaemia"));
}

TEST_F(Silence, ALegThatDidNotMoveIsNotWellBecauseItsPulseIsFelt) {
  chart.check(hm(15, 58)).movement = FootPulse::absent;
  chart.check(hm(16, 10));
  chart.check(hm(16, 20));
  EXPECT_TRUE(stands("limb-ischaemia")) << "nobody says whether it moves";
  for (const int minute : {25, 30}) {
    auto& look = chart.check(hm(16, minute));
    look.movement = look.feeling = look.colour = FootPulse::as_baseline;
  }
  EXPECT_FALSE(stands("limb-ischaemia"));
}

TEST_F(Silence, ABleedingInsideIsNotOverBecauseTheGroinIsDry) {
  chart.check(hm(15, 58)).back_pain = true;
  vital_signs(86, 118, hm(15, 58));
  EXPECT_TRUE(stands("retroperitoneal-bleed"));
  chart.check(hm(16, 2));
  chart.check(hm(16, 6));
  vital_signs(84, 124, hm(16, 9));
  EXPECT_TRUE(stands("retroperitoneal-bleed")) << "still in shock";
  chart.check(hm(16, 15));
  chart.check(hm(16, 20));
  EXPECT_TRUE(stands("retroperitoneal-bleed")) << "nothing good was measured";
  vital_signs(118, 84, hm(16, 28));
  chart.check(hm(16, 30));
  chart.check(hm(16, 35));
  EXPECT_FALSE(stands("retroperitoneal-bleed"));
}

// The sheath is the way back in: common practice, no source.
TEST(EmergencyWithTheSheathIn, NobodyIsToldToTakeItOut) {
  auto chart = ready_at_three();
  ASSERT_EQ(step(chart.plan(hm(15, 1)), Step::remove_sheath).status, StepStatus::due);
  chart.check(hm(15, 1)).chest_pain = true;
  const auto plan = chart.plan(hm(15, 2));
  for (const auto of : {Step::remove_sheath, Step::confirm_readiness}) {
    EXPECT_EQ(step(plan, of).status, StepStatus::blocked);
    EXPECT_FALSE(step(plan, of).earliest);
    EXPECT_FALSE(step(plan, of).released);
    EXPECT_EQ(step(plan, of).why->code, "removal.emergency");
  }
}

TEST(UrgentWithTheSheathIn, NobodyIsToldToTakeItOutBesideACallAboutBloodOrTheGroin) {
  auto chart = ready_at_three();
  const auto held = [&](const std::function<void(SiteCheck&)>& found) {
    const auto kept = chart.record.checks;
    found(chart.check(hm(15, 1)));
    const auto plan = chart.plan(hm(15, 2));
    chart.record.checks = kept;
    const auto& pull = step(plan, Step::remove_sheath);
    return pull.status == StepStatus::blocked ? pull.why->code : std::string();
  };
  EXPECT_EQ(held([](SiteCheck&) {}), "");
  EXPECT_EQ(held([](SiteCheck& c) { c.mass_or_bruit = true; }), "removal.urgent");
  EXPECT_EQ(held([](SiteCheck& c) { c.skin_damage = true; }), "removal.urgent");
  chart.lab(Analyte::oxygen_saturation, 82, hm(15, 1));
  EXPECT_EQ(held([](SiteCheck&) {}), "removal.urgent");
  chart.decide(Step::remove_sheath, "", hm(15)).performer = "Dr Invented";
  EXPECT_EQ(held([](SiteCheck&) {}), "removal.urgent") << "decided before it";
  chart.decide(Step::remove_sheath, "", hm(15, 2)).performer = "Dr Invented";
  EXPECT_EQ(held([](SiteCheck&) {}), "");
  chart.decide(Step::remove_sheath, "wait", hm(15, 2)).refused = true;
  EXPECT_EQ(held([](SiteCheck&) {}), "removal.refused") << "and a no ends it";
}

TEST(RefusedPull, HoldsTheSheathAndSaysWhyUntilSomebodyDecides) {
  auto chart = intervention_chart(6);
  chart.pressure(128, hm(15));
  chart.lab(Analyte::heart_rate, 70, hm(15));
  chart.check(hm(15));
  chart.lab(Analyte::act, 140, hm(15));
  ASSERT_EQ(step(chart.plan(hm(15, 1)), Step::remove_sheath).status, StepStatus::due);
  auto& no = chart.decide(Step::confirm_readiness, "wrong groin on the order", hm(15, 2));
  no.refused = true;
  no.performer = "Nurse (invented)";
  auto plan = chart.plan(hm(15, 3));
  for (const auto of : {Step::remove_sheath, Step::confirm_readiness}) {
    EXPECT_EQ(step(plan, of).status, StepStatus::blocked);
    EXPECT_EQ(step(plan, of).why, (Reason{"removal.refused", {{"what", std::string("@step.confirm-readiness")}, {"said", std::string("wrong groin on the order")}, {"by", std::string("Nurse (invented)")}}}));
  }
  EXPECT_EQ(step(plan, Step::call_clinician).why->code, "removal.refused");
  EXPECT_EQ(step(plan, Step::call_clinician).earliest, hm(15, 2));
  chart.decide(Step::remove_sheath, "", hm(15, 1));
  EXPECT_EQ(step(chart.plan(hm(15, 4)), Step::remove_sheath).status, StepStatus::blocked) << "decided before it";
  chart.decide(Step::remove_sheath, "", hm(15, 3));
  EXPECT_EQ(step(chart.plan(hm(15, 4)), Step::remove_sheath).status, StepStatus::due);
  chart.record.decisions.resize(1);
  chart.done(Step::confirm_readiness, hm(15, 4));
  EXPECT_EQ(step(chart.plan(hm(15, 5)), Step::remove_sheath).status, StepStatus::due) << "confirmed after all";
}

// Common practice (removal against a clotting value: a physician is present), no source.
TEST(PulledAgainstAGate, IsCalledForUntilAClinicianHasDecided) {
  auto chart = intervention_chart(6);
  chart.pressure(128, hm(14, 55));
  chart.lab(Analyte::heart_rate, 70, hm(14, 55));
  chart.check(hm(14, 55));
  chart.lab(Analyte::act, 340, hm(14, 55));
  chart.event(sheath_removed, hm(15));
  chart.event(compression_started, hm(15));
  const auto call = [&](Instant now) {
    const auto plan = chart.plan(now);
    const auto& steps = plan.sites.front().milestones;
    const auto found = std::ranges::find_if(steps, [](const Milestone& m) { return m.step == Step::call_clinician && m.why && m.why->code == "removal.pulled-against"; });
    return found == steps.end() ? std::optional<StepStatus>() : found->status;
  };
  EXPECT_EQ(call(hm(15, 1)), StepStatus::due);
  chart.event(haemostasis_confirmed, hm(15, 40));
  EXPECT_EQ(call(hm(15, 45)), StepStatus::due) << "haemostasis answers nothing";
  chart.decide(Step::remove_sheath, "", hm(15, 50)).performer = "Dr Invented";
  EXPECT_EQ(call(hm(15, 55)), StepStatus::done);
  chart.index().closures.front().value = Closure::device;
  chart.record.access_events.resize(chart.record.access_events.size() - 2);  // out, and nobody pressed
  EXPECT_EQ(call(hm(15, 5)), std::nullopt) << "a closure device is placed under heparin";
  auto few = intervention_chart(6);
  pull_at(few, hm(15));
  few.lab(Analyte::platelets, 44, hm(14, 50));
  chart = few;
  EXPECT_EQ(call(hm(15, 5)), StepStatus::due) << "platelets";
  auto open = intervention_chart(6);
  pull_at(open, hm(15));
  chart = open;
  EXPECT_EQ(call(hm(15, 5)), std::nullopt);
}

TEST(RefusedDecision, IsShownAsWrittenWhileTheSheathIsIn) {
  auto chart = intervention_chart(6);
  auto& no = chart.decide(Step::stand_and_walk, "Nein, warten", hm(14));
  no.subject = "blood-pressure";
  no.refused = true;
  const auto said = [&] { return std::ranges::count(chart.plan(hm(15, 1)).cautions, "caution.decision-refused", &Reason::code); };
  EXPECT_EQ(said(), 1);
  chart.record.decisions.back().subject = "no-gate";
  EXPECT_EQ(said(), 0);
  chart.record.decisions.back().subject = "blood-pressure";
  pull_at(chart, hm(15));
  EXPECT_EQ(said(), 0);
}

// The model: rest steps need no open urgent or emergency alert; who is dizzy lies down is common practice, no source.
TEST(DizzyInRest, NobodyGetsUp) {
  auto chart = plain_chart(6);
  pull_at(chart, hm(15));
  chart.event(haemostasis_confirmed, hm(15, 25));
  for (int quarter = 1; quarter < 24; ++quarter) chart.check(hm(15, 25) + minutes{15 * quarter});
  chart.check(hm(21, 24));
  chart.pressure(120, hm(21, 24));
  const auto walk = [&] { return step(chart.plan(hm(21, 26)), Step::stand_and_walk); };
  ASSERT_EQ(walk().status, StepStatus::due);
  chart.check(hm(21, 25)).dizziness = true;
  EXPECT_EQ(walk().status, StepStatus::blocked);
  EXPECT_EQ(walk().why->code, "rest.alert");
}

// Until somebody says which groin bleeds, neither counts as dry.
TEST(RebleedOfNoGroin, BothAreLookedAt) {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 5, Closure::manual, Side::left).part_of = "Procedure/p1";
  for (const char* of : {"Procedure/p1", "Procedure/p2"}) {
    chart.event(sheath_removed, hm(15)).procedure = of;
    chart.event(compression_started, hm(15)).procedure = of;
    chart.event(haemostasis_confirmed, hm(15, 20)).procedure = of;
  }
  ASSERT_TRUE(chart.plan(hm(15, 30)).sites.at(1).t0);
  auto& bleeds = chart.event(rebleed, hm(16));
  bleeds.procedure.clear();
  bleeds.side = Side::unknown;
  const auto plan = chart.plan(hm(16, 1));
  ASSERT_EQ(plan.sites.size(), 2U);
  for (const auto& site : plan.sites) EXPECT_FALSE(site.t0) << site.key;
  EXPECT_FALSE(plan.up_at);
}

}  // namespace
}  // namespace clinical
