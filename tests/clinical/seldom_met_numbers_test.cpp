// Rules whose mutants no test noticed, each against the clinical model.
#include <algorithm>

#include "mutants_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

const Gate* gate(const CasePlan& plan, GateName name) {
  const auto& gates = plan.sites.front().gates;
  const auto found = std::ranges::find(gates, name, &Gate::name);
  return found == gates.end() ? nullptr : &*found;
}

// The sheet shows the newest value of each kind in the window.
TEST(SeldomMetNumbers, OfEachAnalyteTheNewestIsShown) {
  auto chart = plain_chart(6);
  chart.record.measurements.clear();
  constexpr int kLast = static_cast<int>(Analyte::temperature);
  for (int i = 0; i <= kLast; ++i)
    for (const int minute : {10, 20}) chart.lab(static_cast<Analyte>(i), minute, hm(12, minute));
  const auto shown = chart.plan(hm(13)).shown_values;
  ASSERT_EQ(shown.size(), static_cast<std::size_t>(kLast) + 1);
  for (const auto& m : shown) EXPECT_EQ(m.at, exactly(hm(12, 20))) << name_of(m.analyte);
}

// "A dated statement that none was given for the procedure": one that names a puncture of the case is of the case, one of another procedure is not.
TEST(SeldomMetNumbers, AStatementMayNameAPunctureOfTheCase) {
  const auto history = [](const char* procedure) {
    auto chart = plain_chart(6);
    chart.procedure("p2", 6, Closure::manual, Side::left).part_of = "Procedure/p1";
    for (auto& s : chart.record.statements)
      if (s.kind == StatementKind::no_anticoagulant_given) s.procedure = procedure;
    return gate(chart.plan(hm(13, 10)), GateName::anticoagulant_history)->state;
  };
  EXPECT_EQ(history(""), GateState::open);
  EXPECT_EQ(history("Procedure/p1"), GateState::open);
  EXPECT_EQ(history("Procedure/p2"), GateState::open);
  EXPECT_EQ(history("Procedure/another"), GateState::needs);
}

// "The alert in F fires at 120 min or the ordered time": skin and nerve do not ask which vessel is under the device.
TEST(SeldomMetNumbers, ADeviceOverAVeinIsToldOfAfterTwoHoursToo) {
  auto chart = plain_chart(6, Closure::mechanical, Vessel::vein);
  pull_at(chart, hm(14));
  EXPECT_FALSE(find_alert(chart.plan(hm(16)), "device-total"));
  ASSERT_TRUE(find_alert(chart.plan(hm(16, 0, 1)), "device-total"));
  EXPECT_EQ(find_alert(chart.plan(hm(16, 0, 1)), "device-total")->level, AlertLevel::urgent);
}

// A total that leaves out a dose, or reckons a rate over nobody knows how long, is none.
TEST(SeldomMetNumbers, ATotalIsGivenOnlyOfDosesThatAreAllKnown) {
  const auto total = [](const std::function<void(Chart&)>& more) {
    auto chart = intervention_chart(6);
    more(chart);
    const auto agents = chart.plan(hm(14)).agents;
    const auto row = std::ranges::find(agents, Agent::heparin, &AgentRow::agent);
    return row == agents.end() || !row->total ? std::string("none") : row->total->written;
  };
  const auto infusion = [](Moment until) {
    return [until](Chart& chart) {
      auto& a = chart.bolus(Agent::heparin, 0, hm(12, 30));
      a.bolus = false;
      a.dose.reset();
      a.rate = Rate{amount(1000, "U/h"), DoseUnit::international_unit, false};
      a.end = until;
    };
  };
  EXPECT_EQ(total([](Chart&) {}), "5000 U");
  EXPECT_EQ(total(infusion(exactly(hm(13, 30)))), "6000 U");
  EXPECT_EQ(total(infusion({hm(13), hm(13, 30)})), "none");
  EXPECT_EQ(total([](Chart& c) { auto& a = c.bolus(Agent::heparin, 2000, hm(13)); a.start.reset(), a.end.reset(); }), "none");
  EXPECT_EQ(total([](Chart& c) { c.bolus(Agent::heparin, 2000, hm(13)).status = AdministrationStatus::in_progress, c.record.administrations.back().bolus = false, c.record.administrations.back().end.reset(); }), "none");
}

// "The first value after the last heparin is an exact anchor": where two doses may have been the last, one of them at nobody knows what time, there is no exact time
// from which the curve falls.
TEST(SeldomMetNumbers, OfTwoLastDosesTheLessExactOneCounts) {
  for (const bool first : {false, true}) {
    auto chart = intervention_chart(6);
    chart.record.administrations.clear();
    chart.bolus(Agent::heparin, 5000, hm(12, 30));
    EXPECT_TRUE(chart.plan(hm(13, 30)).agents.front().last_given);
    auto& coarse = chart.bolus(Agent::heparin, 1000, hm(12, 30));
    coarse.start = coarse.end = Moment{hm(12, 10), hm(12, 30)};
    if (first) std::ranges::reverse(chart.record.administrations), std::swap(chart.record.administrations[0].source, chart.record.administrations[1].source);
    chart.lab(Analyte::act, 290, hm(13));
    const auto plan = chart.plan(hm(13, 30));
    EXPECT_FALSE(plan.agents.front().last_given);
    EXPECT_FALSE(plan.sites.front().projection && plan.sites.front().projection->computed);
  }
}

// "A coagulation-test-unavailable statement ends with a later test": made again after that test, it stands again.
TEST(SeldomMetNumbers, OfSeveralStatementsThatNoTestCanBeHadTheNewestCounts) {
  auto chart = intervention_chart(6);
  chart.state(StatementKind::coagulation_test_unavailable, hm(13));
  EXPECT_TRUE(gate(chart.plan(hm(15)), GateName::heparin_clock));
  chart.lab(Analyte::act, 140, hm(14));
  EXPECT_FALSE(gate(chart.plan(hm(15)), GateName::heparin_clock));
  chart.state(StatementKind::coagulation_test_unavailable, hm(14, 30));
  EXPECT_TRUE(gate(chart.plan(hm(15)), GateName::heparin_clock));
}

// "Drawn after the last dose": of a good ACT of that day, at nobody knows what time, that cannot be said; a bad one may be the newest.
TEST(SeldomMetNumbers, AnActKnownByItsDayIsNoDrawAfterTheDoseUnlessItIsBad) {
  const auto act = [](double value) {
    auto chart = intervention_chart(6);
    chart.lab(Analyte::act, value, hm(13)).at = Moment{hm(0), hm(23, 59, 59)};
    return gate(chart.plan(hm(13, 30)), GateName::act)->why.code;
  };
  EXPECT_EQ(act(140), "gate.act.draw");
  EXPECT_NE(act(180), "gate.act.draw");
}

}  // namespace
}  // namespace clinical
