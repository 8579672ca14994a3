// A draw right after a bolus, and a dose that nobody gives. Both figures are common practice, no source: 3 to 5 min until a bolus has mixed; one dose of
// heparin of about 100, at most 150 IU/kg. Cases are invented.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

TEST(HeparinDose, ADrawWithinFiveMinutesOfTheBolusClearsNothing) {
  struct Row {
    int minute, second;
    GateState state;
    const char* code;
  };
  for (const auto& [minute, second, state, code] : {Row{1, 0, GateState::needs, "gate.act.after-bolus"}, Row{4, 59, GateState::needs, "gate.act.after-bolus"},
                                                    Row{5, 0, GateState::open, "gate.act.open"}}) {
    auto bed = ready();
    bed.bolus(Agent::heparin, hm(15, 10), 2000);
    bed.lab(Analyte::act, 140, hm(15, 10 + minute, second));
    const auto gate = bed.gate(GateName::act, hm(15, 16));
    ASSERT_TRUE(gate);
    EXPECT_EQ(gate->state, state) << minute << ":" << second;
    EXPECT_EQ(gate->why.code, code) << minute << ":" << second;
  }
}

TEST(HeparinDose, WhileItCannotHaveMixedTheClockIsKnown) {
  auto bed = ready();
  bed.bolus(Agent::heparin, hm(15, 10), 2000);
  bed.lab(Analyte::act, 140, hm(15, 11));
  EXPECT_EQ(bed.gate(GateName::act, hm(15, 12))->clock_ends, hm(15, 15));
  EXPECT_FALSE(bed.gate(GateName::act, hm(15, 15))->clock_ends);
}

TEST(HeparinDose, AValueOverTheLimitClosesWhenever) {
  auto bed = ready();
  bed.bolus(Agent::heparin, hm(15, 10), 2000);
  bed.lab(Analyte::act, 260, hm(15, 11));
  EXPECT_EQ(bed.state_of(GateName::act, hm(15, 12)), GateState::closed);
}

TEST(HeparinDose, AfterAnInfusionNothingMustMix) {
  auto bed = ready();
  bed.infusion(Agent::heparin, hm(14), hm(15, 10));
  bed.lab(Analyte::act, 140, hm(15, 11));
  EXPECT_EQ(bed.state_of(GateName::act, hm(15, 12)), GateState::open);
}

TEST(HeparinDose, AnApttDrawnSoSoonDoesNotStandInForIt) {
  auto bed = ready();
  bed.bolus(Agent::heparin, hm(15, 10), 2000);
  bed.lab(Analyte::aptt, 30, hm(15, 11));
  EXPECT_EQ(bed.state_of(GateName::act, hm(15, 12)), GateState::needs);
  EXPECT_EQ(bed.state_of(GateName::aptt, hm(15, 12)), GateState::needs);
}

struct Dose {
  const char* name;
  std::function<void(Administration&)> change;
  const char* about;   // none: believed
};
TEST(HeparinDose, OneThatNobodyGivesIsAskedAboutAndHoldsTheSheath) {
  const Dose doses[] = {
      {"25000 U", [](auto& a) { a.dose->amount = amount(25000, "[iU]"); }, nullptr},
      {"80000 U", [](auto& a) { a.dose->amount = amount(80000, "[iU]"); }, "heparin-dose-high"},
      {"in mg", [](auto& a) { a.dose->unit = DoseUnit::milligram; }, "heparin-dose-unit"},
      {"a bag", [](auto& a) { a.dose->amount = amount(30000, "[iU]"), a.bolus = false, a.end = exactly(hm(13)); }, nullptr},
      {"by weight", [](auto& a) { a.dose->amount = amount(100, "[iU]/kg"), a.dose->per_kg = true; }, nullptr},
      {"a flush in mg", [](auto& a) { a.dose->unit = DoseUnit::milligram, a.flush = true; }, nullptr},
      {"another drug in mg", [](auto& a) { a.agent = Agent::enoxaparin, a.dose->unit = DoseUnit::milligram; }, nullptr},
      {"no dose", [](auto& a) { a.dose.reset(); }, nullptr},
  };
  for (const auto& dose : doses) {
    Chart chart = intervention_chart(6);
    dose.change(chart.record.administrations.back());
    const auto plan = chart.plan(hm(14));
    const auto found = std::ranges::find(plan.conflicts, Fact::dose, &Conflict::fact);
    EXPECT_EQ(found != plan.conflicts.end(), dose.about != nullptr) << dose.name;
    if (!dose.about || found == plan.conflicts.end()) continue;
    EXPECT_EQ(found->about, dose.about) << dose.name;
    EXPECT_EQ(step(plan, Step::remove_sheath).status, StepStatus::blocked) << dose.name;
    EXPECT_EQ(step(plan, Step::provide_missing).status, StepStatus::due) << dose.name;
  }
}

}  // namespace
}  // namespace clinical
