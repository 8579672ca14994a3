// What acts on clotting on bed rest is said, and who gets up under it is asked for; no time of the plan moves by it, for the model lets none. Levels and the
// answer are common practice, no source. Cases are invented.
#include <algorithm>

#include "clinical/in_rest.h"
#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

class InRest : public testing::Test {
 protected:
  InRest() {
    chart = plain_chart(6);
    pull_at(chart, hm(15));
    chart.event(haemostasis_confirmed, hm(15, 25));  // up at 21:25
  }
  Administration& give(Agent agent, Instant at, const char* dose = "5000 [iU]") {
    auto& a = chart.bolus(agent, 5000, at);
    a.name = "invented " + std::string(name_of(agent));
    a.dose->amount.written = dose;
    return a;
  }
  Administration& run(Agent agent, Instant from) {
    auto& a = give(agent, from);
    a.bolus = false;
    a.end.reset();
    a.status = AdministrationStatus::in_progress;
    return a;
  }
  void ready_to_walk() {
    chart.check(hm(21, 20));
    chart.pressure(120, hm(21, 20));
  }
  const Alert* told(std::string_view trigger, Instant now) {
    plan = chart.plan(now);
    const auto found = std::ranges::find(plan.alerts, trigger, &Alert::trigger);
    return found == plan.alerts.end() ? nullptr : &*found;
  }
  const Milestone& walk() { return step(plan = chart.plan(hm(21, 30)), Step::stand_and_walk); }
  bool caution(std::string_view code) const {
    return std::ranges::any_of(plan.cautions, [&](const Reason& r) { return r.code == code; });
  }
  Chart chart;
  CasePlan plan;
};

TEST_F(InRest, WhatIsGivenIsSaidWithDrugDoseAndTime) {
  const auto before = step(chart.plan(hm(17)), Step::stand_and_walk).earliest;
  give(Agent::apixaban, hm(16), "5 mg");
  const auto* alert = told("drug-in-rest", hm(17));
  ASSERT_TRUE(alert);
  EXPECT_EQ(alert->level, AlertLevel::tell);
  EXPECT_EQ(alert->why, (Reason{"alert.drug-in-rest", {{"what", "invented apixaban 5 mg"}, {"at", hm(16)}}}));
  EXPECT_TRUE(caution("caution.drug-in-rest"));
  EXPECT_EQ(step(plan, Step::stand_and_walk).earliest, before) << "no time moves";
}

TEST_F(InRest, WhatActsAtOnceIsACall) {
  for (const Agent agent : {Agent::heparin, Agent::tenecteplase, Agent::eptifibatide, Agent::bivalirudin, Agent::argatroban}) {
    const auto kept = chart.record.administrations;
    give(agent, hm(16));
    const auto* alert = told("drug-in-rest", hm(16, 5));
    ASSERT_TRUE(alert) << name_of(agent);
    EXPECT_EQ(alert->level, AlertLevel::urgent) << name_of(agent);
    chart.record.administrations = kept;
  }
  for (const Agent agent : {Agent::enoxaparin, Agent::fondaparinux, Agent::warfarin, Agent::cangrelor, Agent::other_antithrombotic}) {
    const auto kept = chart.record.administrations;
    give(agent, hm(16));
    const auto* alert = told("drug-in-rest", hm(16, 5));
    ASSERT_TRUE(alert) << name_of(agent);
    EXPECT_EQ(alert->level, AlertLevel::tell) << name_of(agent);
    chart.record.administrations = kept;
  }
}

TEST_F(InRest, WhatDoesNotActOnClottingOrIsAFlushIsNotSaid) {
  give(Agent::heparin, hm(16)).flush = true;
  give(Agent::aspirin, hm(16));
  give(Agent::other, hm(16));
  give(Agent::protamine, hm(16));
  EXPECT_FALSE(told("drug-in-rest", hm(17)));
  EXPECT_FALSE(caution("caution.drug-in-rest"));
}

TEST_F(InRest, BeforeTheSheathIsOutItIsTheGatesAndAfterTheWalkItIsNoBedRest) {
  give(Agent::enoxaparin, hm(15));
  EXPECT_FALSE(told("drug-in-rest", hm(17))) << "as it came out: the gates were made with it";
  chart.record.administrations.pop_back();
  chart.done(Step::stand_and_walk, hm(21, 30));
  give(Agent::enoxaparin, hm(20));
  EXPECT_FALSE(told("drug-in-rest", hm(21, 40)));
}

TEST_F(InRest, NobodyGetsUpUnderWhatRunsBeforeThePrescriberHasDecided) {
  run(Agent::heparin, hm(16));
  ready_to_walk();
  EXPECT_EQ(walk().status, StepStatus::blocked);
  EXPECT_EQ(walk().why->code, "rest.prescriber");
  const auto& call = step(plan, Step::call_clinician);
  EXPECT_EQ(call.why->code, "rest.prescriber");
  EXPECT_EQ(call.earliest, hm(16)) << "since it was given";
  chart.decide(Step::stand_and_walk, "heparin", hm(15, 59));
  EXPECT_EQ(walk().status, StepStatus::blocked) << "decided before it was given";
  chart.decide(Step::stand_and_walk, "360 min", hm(21));
  EXPECT_EQ(walk().status, StepStatus::blocked) << "decided about something else";
  chart.decide(Step::stand_and_walk, "heparin", hm(21));
  EXPECT_EQ(walk().status, StepStatus::due);
  EXPECT_FALSE(told("drug-in-rest", hm(21, 30)));
}

TEST_F(InRest, WhatBeganBeforeHaemostasisAndRunsOnIsAskedAboutToo) {
  run(Agent::eptifibatide, hm(14)).dose.reset();
  ready_to_walk();
  const auto* alert = told("drug-in-rest", hm(16));
  ASSERT_TRUE(alert);
  EXPECT_EQ(alert->level, AlertLevel::tell);
  EXPECT_EQ(alert->why.code, "alert.drug-runs-on");
  EXPECT_FALSE(caution("caution.drug-in-rest")) << "the plan was made with it";
  chart.record.administrations.back().end = exactly(hm(18));
  chart.record.administrations.back().status = AdministrationStatus::completed;
  EXPECT_FALSE(told("drug-in-rest", hm(19)));
}

TEST_F(InRest, ATabletMayBeGivenAndThePatientWalks) {
  give(Agent::apixaban, hm(18), "5 mg");
  ready_to_walk();
  EXPECT_EQ(walk().status, StepStatus::due);
}

struct Turned {
  Analyte analyte;
  double good, bad;
};
TEST_F(InRest, AValueThatTurnsBadIsACallAndKeepsThePatientFlat) {
  for (const auto& [analyte, good, bad] : {Turned{Analyte::act, 149, 150}, Turned{Analyte::aptt, 44, 45}, Turned{Analyte::inr, 1.8, 1.9}, Turned{Analyte::platelets, 50, 49}}) {
    const auto kept = chart.record;
    ready_to_walk();
    chart.lab(analyte, good, hm(16));
    EXPECT_FALSE(told("clotting-in-rest", hm(16, 5))) << name_of(analyte);
    chart.lab(analyte, bad, hm(16, 10));
    const auto* alert = told("clotting-in-rest", hm(16, 15));
    ASSERT_TRUE(alert) << name_of(analyte);
    EXPECT_EQ(alert->level, AlertLevel::urgent);
    EXPECT_EQ(walk().status, StepStatus::blocked) << name_of(analyte);
    EXPECT_EQ(walk().why->code, "rest.prescriber-value") << name_of(analyte);
    chart.lab(analyte, good, hm(18));
    EXPECT_EQ(walk().status, StepStatus::blocked) << name_of(analyte) << ": one good value";
    const auto one_good = chart.record;
    chart.lab(analyte, good, hm(19));
    EXPECT_EQ(walk().status, StepStatus::due) << name_of(analyte);
    chart.record = one_good;
    std::string seen;
    for (const auto& m : chart.record.measurements)
      if (m.analyte == analyte && m.at == exactly(hm(16, 10))) seen = m.value->written;
    chart.decide(Step::stand_and_walk, seen, hm(20));
    EXPECT_EQ(walk().status, StepStatus::due) << name_of(analyte) << ": " << seen;
    chart.record = kept;
  }
}

TEST_F(InRest, ValuesThatTurnTogetherAreOneAlert) {
  chart.lab(Analyte::act, 260, hm(16));
  chart.lab(Analyte::inr, 3.1, hm(16));
  const auto* alert = told("clotting-in-rest", hm(16, 5));
  ASSERT_TRUE(alert);
  EXPECT_EQ(std::ranges::count(plan.alerts, "clotting-in-rest", &Alert::trigger), 1);
  EXPECT_EQ(alert->why.arguments.front(), (std::pair<std::string, Argument>{"what", "@analyte.act,analyte.inr"}));
  EXPECT_EQ(alert->inputs.size(), 2u);
}

TEST_F(InRest, ALowFibrinogenAfterAFibrinolyticTellsOnce) {
  give(Agent::alteplase, hm(12, 30));
  chart.lab(Analyte::fibrinogen, 1.2, hm(16));
  EXPECT_TRUE(told("clotting-in-rest", hm(16, 5)));
  chart.record.administrations.pop_back();
  EXPECT_FALSE(told("clotting-in-rest", hm(16, 5)));
  EXPECT_TRUE(told("fibrinogen-low", hm(16, 5))) << "where none is recorded its own alert says so";
}

TEST_F(InRest, TheWatchBeginsAnewAfterWhatActsAtOnceAndAfterLowMolecularHeparin) {
  for (const Agent agent : {Agent::heparin, Agent::bivalirudin, Agent::argatroban, Agent::alteplase, Agent::tirofiban, Agent::enoxaparin, Agent::fondaparinux}) {
    const auto kept = chart.record.administrations;
    give(agent, hm(17));
    plan = chart.plan(hm(17, 5));
    EXPECT_TRUE(plan.sites.front().high_watch) << name_of(agent);
    EXPECT_TRUE(std::ranges::any_of(plan.sites.front().milestones, [](const Milestone& m) { return m.step == Step::check_site && m.earliest == hm(17, 15); })) << name_of(agent);
    chart.record.administrations = kept;
  }
  for (const Agent agent : {Agent::apixaban, Agent::warfarin, Agent::aspirin}) EXPECT_FALSE(restarts_watch(agent)) << name_of(agent);
}

TEST_F(InRest, CangrelorThatRunsIsSaid) {
  Chart waiting = plain_chart(6);
  auto& a = waiting.bolus(Agent::cangrelor, 30, hm(12, 30));
  a.bolus = false;
  a.end.reset();
  a.status = AdministrationStatus::in_progress;
  plan = waiting.plan(hm(14));
  EXPECT_TRUE(caution("caution.antiplatelet-running"));
  waiting.record.administrations.back().end = exactly(hm(13));
  waiting.record.administrations.back().status = AdministrationStatus::completed;
  plan = waiting.plan(hm(14));
  EXPECT_FALSE(caution("caution.antiplatelet-running"));
}

TEST_F(InRest, WhatIsGivenWhileItIsPressedIsACallAtOnceAndAfterHaemostasis) {
  for (const Instant given : {hm(15, 5), hm(15, 25)}) {
    const auto kept = chart.record.administrations;
    give(Agent::heparin, given);
    for (const Instant now : {hm(15, 26), hm(17)}) {
      const auto* alert = told("drug-in-rest", now);
      ASSERT_TRUE(alert) << testing::PrintToString(now);
      EXPECT_EQ(alert->level, AlertLevel::urgent);
      EXPECT_EQ(alert->why.code, "alert.drug-in-rest-now");
      EXPECT_TRUE(caution("caution.drug-in-rest"));
    }
    chart.record.administrations = kept;
  }
  give(Agent::heparin, hm(15, 5));
  ASSERT_TRUE(told("drug-in-rest", hm(15, 6))) << "while somebody presses";
  ready_to_walk();
  EXPECT_EQ(walk().why->code, "rest.prescriber");
  chart.decide(Step::stand_and_walk, "heparin", hm(21));
  EXPECT_EQ(walk().status, StepStatus::due);
}

TEST_F(InRest, ADripThatWasBegunWhileItWasPressedIsSaidAfterItsEnd) {
  auto& drip = run(Agent::heparin, hm(15, 10));
  drip.end = exactly(hm(15, 40));
  drip.status = AdministrationStatus::completed;
  EXPECT_TRUE(told("drug-in-rest", hm(16)));
}

TEST_F(InRest, ARebleedLiftsNothingOfWhatWasGivenOrMeasured) {
  give(Agent::heparin, hm(16));
  give(Agent::enoxaparin, hm(16, 1));
  chart.lab(Analyte::act, 260, hm(16, 5));
  chart.event(rebleed, hm(16, 30));
  chart.event(compression_started, hm(16, 31));
  const auto said = [&](Instant now) {
    plan = chart.plan(now);
    return std::ranges::count(plan.alerts, "drug-in-rest", &Alert::trigger) + std::ranges::count(plan.alerts, "clotting-in-rest", &Alert::trigger);
  };
  EXPECT_EQ(said(hm(16, 40)), 3) << "while it is pressed again";
  give(Agent::tenecteplase, hm(16, 45));
  EXPECT_EQ(said(hm(16, 46)), 4);
  chart.event(haemostasis_confirmed, hm(17));
  EXPECT_EQ(said(hm(17, 10)), 4) << "after the haemostasis that followed";
  chart.check(hm(22, 55));
  chart.check(hm(23, 55));
  chart.pressure(120, hm(23, 55));
  for (const char* seen : {"heparin", "tenecteplase"}) {
    plan = chart.plan(hm(23, 59));
    EXPECT_NE(step(plan, Step::stand_and_walk).status, StepStatus::due);
    chart.decide(Step::stand_and_walk, seen, hm(23, 56));
  }
  EXPECT_EQ(said(hm(23, 59)), 2);
}

// The model: an administration whose drug cannot be identified might be any; unknown is never normal (law 2).
TEST_F(InRest, WhatCannotBeIdentifiedIsSaidAndAskedForAndNobodyGetsUpUnderIt) {
  ready_to_walk();
  auto& a = give(Agent::unidentified, hm(16), "80 mg");
  a.name = "code 4711";
  const auto* alert = told("drug-in-rest", hm(17));
  ASSERT_TRUE(alert);
  EXPECT_EQ(alert->level, AlertLevel::urgent);
  EXPECT_EQ(std::get<std::string>(alert->why.arguments.front().second), "code 4711 80 mg");
  EXPECT_TRUE(std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::drug_identity; }));
  EXPECT_EQ(walk().why->code, "rest.prescriber");
  chart.decide(Step::stand_and_walk, "code 4712", hm(21));
  EXPECT_EQ(walk().status, StepStatus::blocked);
  chart.decide(Step::stand_and_walk, "code 4711", hm(21));
  EXPECT_EQ(walk().status, StepStatus::due);
  chart.record.administrations.back().name.clear();
  EXPECT_EQ(std::get<std::string>(told("drug-in-rest", hm(17))->why.arguments.front().second), "@agent.unidentified");
  chart.record.administrations.back().route = Route::oral;
  EXPECT_EQ(told("drug-in-rest", hm(17))->level, AlertLevel::tell) << "a tablet acts on nothing at once";
  EXPECT_TRUE(std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::drug_identity; }));
  chart.record.administrations.back().start = exactly(hm(14, 50));
  EXPECT_FALSE(told("drug-in-rest", hm(17))) << "before the sheath was out it is the gates'";
}

TEST_F(InRest, WhatIsKnownToTheDayOnlyIsCalledForNowAndItsTimeIsAskedFor) {
  give(Agent::heparin, hm(16)).start = Moment{hm(0), hm(23, 59, 59)};
  ready_to_walk();
  const auto* alert = told("drug-in-rest", hm(17));
  ASSERT_TRUE(alert);
  EXPECT_EQ(alert->since, hm(15)) << "it may have been given since the sheath is out";
  const auto& call = step(plan, Step::call_clinician);
  EXPECT_EQ(call.status, StepStatus::due);
  EXPECT_EQ(call.earliest, hm(15));
  EXPECT_TRUE(std::ranges::any_of(plan.missing, [](const Missing& m) { return m.fact == Fact::dose_time; }));
  chart.decide(Step::stand_and_walk, "heparin", hm(21));
  EXPECT_TRUE(told("drug-in-rest", hm(21, 30))) << "it may have been given after that";
}

TEST_F(InRest, ADecisionMayNameTheTestBeforeItsValue) {
  chart.lab(Analyte::act, 260, hm(16)).value->written = "260 s";
  ASSERT_TRUE(told("clotting-in-rest", hm(17)));
  const auto answers = [&](const char* seen) {
    const auto kept = chart.record.decisions;
    chart.decide(Step::stand_and_walk, seen, hm(16, 30));
    const bool open = told("clotting-in-rest", hm(17));
    chart.record.decisions = kept;
    return !open;
  };
  for (const char* seen : {"260 s", "ACT 260 s", "act 260", "260"}) EXPECT_TRUE(answers(seen)) << seen;
  for (const char* seen : {"aPTT 260 s", "ACT 250 s", "ACT", "ACT260", "act 260 s: not yet"}) EXPECT_FALSE(answers(seen)) << seen;
}

TEST(InRestOfTwo, WhileAnotherSheathIsInTheGatesAskAndItIsTold) {
  Chart chart = plain_chart(6);
  chart.procedure("p2", 6, Closure::manual, Side::left);
  chart.event(sheath_inserted, hm(12), "Procedure/p2");
  pull_at(chart, hm(15));
  chart.bolus(Agent::heparin, 4000, hm(15, 10));
  const auto plan = chart.plan(hm(15, 15));
  const auto alert = std::ranges::find(plan.alerts, "drug-in-rest", &Alert::trigger);
  ASSERT_NE(alert, plan.alerts.end());
  EXPECT_EQ(alert->level, AlertLevel::tell);
}

}  // namespace
}  // namespace clinical
