// A number that a measurement cannot have (fhir_read/possible.cpp) is no value, and what is said of it names its digits. No published source: law 2 of the
// clinical model, "unknown is never normal".
#include <algorithm>
#include <tuple>

#include "course_support.h"

namespace clinical {
namespace {

Measurement& impossible(Chart& chart, Analyte analyte, const char* written, Instant at) {
  auto& m = chart.lab(analyte, 0, at);
  m.value.reset();
  m.impossible = written;
  return m;
}

const Conflict* about(const CasePlan& plan, Fact fact) {
  const auto found = std::ranges::find_if(plan.conflicts, [&](const Conflict& c) { return c.fact == fact && c.about == "impossible-value"; });
  return found == plan.conflicts.end() ? nullptr : &*found;
}

const Gate* gate(const CasePlan& plan, GateName name) {
  const auto found = std::ranges::find(plan.sites[0].gates, name, &Gate::name);
  return found == plan.sites[0].gates.end() ? nullptr : &*found;
}

TEST(ImpossibleValue, NoClearanceComesOfACreatinineInTheWrongUnit) {
  Chart chart = intervention_chart(6);
  auto& infusion = chart.bolus(Agent::bivalirudin, 100, hm(12, 10));
  infusion.end = exactly(hm(12, 40));
  ASSERT_TRUE(chart.plan(hm(15)).clearance);
  impossible(chart, Analyte::creatinine, "1.9 umol/L", hm(13, 30));
  const auto plan = chart.plan(hm(15));
  EXPECT_FALSE(plan.clearance);
  ASSERT_TRUE(gate(plan, GateName::bivalirudin));
  EXPECT_EQ(gate(plan, GateName::bivalirudin)->state, GateState::ask);
  const auto* said = about(plan, Fact::creatinine);
  ASSERT_TRUE(said);
  EXPECT_EQ(said->values, std::vector<std::string>{"1.9 umol/L"});
}

TEST(ImpossibleValue, TheGateNamesTheDigits) {
  const struct {
    Analyte analyte;
    const char* written;
    GateName name;
    Fact fact;
  } rows[] = {{Analyte::act, "14 s", GateName::act, Fact::act},
              {Analyte::haemoglobin, "131 g/dL", GateName::haemoglobin, Fact::haemoglobin},
              {Analyte::platelets, "210000 10*9/L", GateName::platelets, Fact::platelets},
              {Analyte::heart_rate, "720 /min", GateName::heart_rate, Fact::heart_rate},
              {Analyte::diastolic, "700 mm[Hg]", GateName::blood_pressure, Fact::blood_pressure}};
  for (const auto& row : rows) {
    Chart chart = intervention_chart(6);
    impossible(chart, row.analyte, row.written, hm(14, 59));
    const auto plan = chart.plan(hm(15));
    const auto* said = gate(plan, row.name);
    ASSERT_TRUE(said) << row.written;
    EXPECT_EQ(said->state, GateState::needs) << row.written;
    EXPECT_EQ(said->why.code, "gate.impossible-value") << row.written;
    EXPECT_EQ(std::get<Value>(said->why.arguments.front().second).written, row.written);
    ASSERT_TRUE(about(plan, row.fact)) << row.written;
    chart.record.measurements.pop_back();
    EXPECT_FALSE(about(chart.plan(hm(15)), row.fact)) << "corrected";
  }
}

// What is recorded and cannot be read hides what is older, and the gate gives it as written.
TEST(UnreadValue, TheGateNamesWhatIsRecorded) {
  for (const auto& [analyte, name, fact] : {std::tuple{Analyte::act, GateName::act, Fact::act}, std::tuple{Analyte::haemoglobin, GateName::haemoglobin, Fact::haemoglobin},
                                            std::tuple{Analyte::platelets, GateName::platelets, Fact::platelets}, std::tuple{Analyte::systolic, GateName::blood_pressure, Fact::blood_pressure}}) {
    Chart chart = intervention_chart(6);
    auto& m = chart.lab(analyte, 0, hm(14, 59));
    m.value.reset();
    m.unread = "7.0";
    const auto plan = chart.plan(hm(15));
    ASSERT_TRUE(gate(plan, name));
    EXPECT_EQ(gate(plan, name)->state, GateState::needs);
    EXPECT_EQ(gate(plan, name)->why.code, "gate.unread-value");
    EXPECT_EQ(std::get<Value>(gate(plan, name)->why.arguments.front().second).written, "7.0");
    const auto told = [&](const CasePlan& of) { return std::ranges::any_of(of.conflicts, [&](const Conflict& c) { return c.fact == fact && c.about == "unread-value" && c.values == std::vector<std::string>{"7.0"}; }); };
    EXPECT_TRUE(told(plan));
    chart.record.measurements.pop_back();
    EXPECT_FALSE(told(chart.plan(hm(15)))) << "corrected";
  }
}

TEST(ImpossibleValue, ANewerOneEndsIt) {
  Chart chart = intervention_chart(6);
  impossible(chart, Analyte::weight, "800 kg", hm(13));
  EXPECT_TRUE(about(chart.plan(hm(15)), Fact::weight));
  chart.lab(Analyte::weight, 80, hm(13, 5));
  EXPECT_FALSE(about(chart.plan(hm(15)), Fact::weight));
}

// It is no value, and only what wants one is held up: a weight that nothing rests on stops nobody.
TEST(ImpossibleValue, HoldsUpNothingByItself) {
  Chart chart = plain_chart(6);
  pull_at(chart, hm(15));
  const auto before = at(chart.plan(hm(15)), Step::stand_and_walk);
  impossible(chart, Analyte::bilirubin, "900 mg/dL", hm(13));
  EXPECT_EQ(at(chart.plan(hm(15)), Step::stand_and_walk), before);
}

}  // namespace
}  // namespace clinical
