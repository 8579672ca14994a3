// Which value an add rests on: the worst from the start to T0, and none that was drawn before what could have made it worse.
#include <algorithm>

#include "course_support.h"

namespace clinical {
namespace {

using enum AccessEventKind;

Chart dry_at_1600(Chart chart) {
  pull_at(chart, hm(15));
  chart.event(compression_ended, hm(16));
  chart.event(haemostasis_confirmed, hm(16));
  return chart;
}
Chart without(Chart chart, Analyte analyte) {
  std::erase_if(chart.record.measurements, [&](const Measurement& m) { return m.analyte == analyte; });
  return chart;
}
bool adds(const CasePlan& plan, const char* term) {
  const auto& basis = step(plan, Step::stand_and_walk).basis;
  return std::ranges::any_of(basis, [&](const Basis& b) {
    return std::ranges::any_of(b.arithmetic.arguments, [&](const auto& a) { return a.second == Argument(std::string("@add.") + term); });
  });
}
bool asked(const CasePlan& plan, Fact fact) {
  return std::ranges::any_of(plan.missing, [&](const Missing& m) { return m.fact == fact; });
}

struct ValueRow {
  const char* name;
  std::function<void(Chart&)> given;
  bool platelets;
};
// Tirofiban label: platelets 2 to 6 h after the start; a count from before it says nothing of a fall that begins within hours.
TEST(AddedForPlatelets, ACountFromBeforeTheInhibitorClearsNothing) {
  const auto count = [](double n, Instant at) { return [=](Chart& c) { c.lab(Analyte::platelets, n, at); }; };
  const ValueRow rows[] = {
      {"before the start of the inhibitor", count(220, hm(12, 10)), true},
      {"less than two hours after it", count(220, hm(14, 19)), true},
      {"two hours after it", count(220, hm(14, 20)), false},
      {"low before it", count(90, hm(12, 10)), true},
      {"none before T0, the first after it", count(220, hm(16, 30)), false},
      {"none before T0, the first after it low", count(70, hm(16, 30)), true},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.name);
    auto chart = without(intervention_chart(6), Analyte::platelets);
    chart.bolus(Agent::tirofiban, 0, hm(12, 20));
    row.given(chart);
    EXPECT_EQ(adds(dry_at_1600(chart).plan(hm(17)), "platelets"), row.platelets);
  }
  auto unknown_start = intervention_chart(6);
  unknown_start.bolus(Agent::tirofiban, 0, hm(12, 20)).start.reset();
  unknown_start.record.administrations.back().end.reset();
  EXPECT_TRUE(adds(dry_at_1600(unknown_start).plan(hm(17)), "platelets"));
}

// No published source: what was given before the pull does not depend on when it was told.
TEST(AddedForThePull, AStatementOnTheHistoryCountsWheneverItWasMade) {
  auto chart = plain_chart(6);
  for (auto& s : chart.record.statements) s.at = exactly(hm(16, 30));
  EXPECT_FALSE(adds(dry_at_1600(chart).plan(hm(17)), "pulled-with-gate-not-open"));
  chart.record.statements.clear();
  EXPECT_TRUE(adds(dry_at_1600(chart).plan(hm(17)), "pulled-with-gate-not-open"));
}

// No published source: the pressure on bed rest is a risk like the others and stands within the longest add; rebleed and swelling stand outside.
TEST(AddedForPressureOnRest, StandsWithinTheLongestAdd) {
  const auto walks = [](Chart chart, bool high) {
    chart = dry_at_1600(chart);
    if (high) chart.pressure(165, hm(16, 30));
    return step(chart.plan(hm(17)), Step::stand_and_walk).after_t0;
  };
  auto many = intervention_chart(6);  // 2 h, and 1 h for each of two more
  many.lab(Analyte::platelets, 80, hm(13));
  many.lab(Analyte::inr, 1.7, hm(13));
  many.bolus(Agent::tirofiban, 0, hm(12, 20));
  EXPECT_EQ(walks(many, true), walks(many, false));
  EXPECT_EQ(*walks(intervention_chart(6), true), *walks(intervention_chart(6), false) + std::chrono::hours{1});
}

// Common practice, no source: an adult's height does not change from noon to two.
TEST(AddedForClearance, AHeightMeasuredAfterTheCreatinineIsNotMissing) {
  auto chart = without(without(intervention_chart(6), Analyte::height), Analyte::creatinine);
  chart.lab(Analyte::creatinine, 0.9, hm(13));
  EXPECT_TRUE(adds(dry_at_1600(chart).plan(hm(17)), "clearance")) << "never measured: the next worse band";
  chart.lab(Analyte::height, 175, hm(14));
  EXPECT_FALSE(adds(dry_at_1600(chart).plan(hm(17)), "clearance"));
}

// Warfarin label: the INR moves with every dose; within six hours and after the last one is this protocol's own choice.
TEST(AddedForInr, WarfarinAtHomeNeedsAValueOfTheLastSixHoursAfterTheLastTablet) {
  auto chart = without(intervention_chart(6), Analyte::inr);
  chart.record.home_drugs.push_back({chart.source(), Agent::warfarin, "warfarin", true, false, exactly(hm(8)), {}});
  chart.lab(Analyte::inr, 1.2, hm(7, 30));
  EXPECT_TRUE(adds(dry_at_1600(chart).plan(hm(17)), "inr")) << "from before the last tablet";
  chart.lab(Analyte::inr, 1.2, hm(12, 30));
  EXPECT_FALSE(adds(dry_at_1600(chart).plan(hm(17)), "inr"));
}

TEST(AddedForInr, AValueFromBeforeTheReversalClearsNothing) {
  auto chart = intervention_chart(6);
  chart.bolus(Agent::prothrombin_complex, 0, hm(12, 30));
  EXPECT_TRUE(adds(dry_at_1600(chart).plan(hm(17)), "inr"));
  chart.lab(Analyte::inr, 1.3, hm(13, 30));
  EXPECT_FALSE(adds(dry_at_1600(chart).plan(hm(17)), "inr"));
}

// Asked for only while the answer can still move something.
TEST(MissingHomeDrugs, AreAskedForWhileTheyDecideSomething) {
  const auto silent = [] {
    auto chart = intervention_chart(6);
    chart.record.statements.clear();
    return chart;
  };
  auto only_haemostasis = silent();
  only_haemostasis.event(haemostasis_confirmed, hm(15, 40));
  EXPECT_FALSE(asked(only_haemostasis.plan(hm(16)), Fact::home_anticoagulants)) << "an INR is on file, the pull has no time, the floors stand anyway";
  auto told = only_haemostasis;
  told.state(StatementKind::no_home_anticoagulant, hm(13, 5));
  told = without(told, Analyte::inr);
  EXPECT_FALSE(asked(told.plan(hm(16)), Fact::home_anticoagulants)) << "it is told, though the time of the pull is not";
  EXPECT_FALSE(asked(told.plan(hm(16)), Fact::inr));
  const auto pulled = dry_at_1600(silent());
  EXPECT_TRUE(asked(pulled.plan(hm(17)), Fact::home_anticoagulants)) << "it was no pull with every gate open";
  EXPECT_FALSE(asked(pulled.plan(hm(31)), Fact::home_anticoagulants)) << "the rest has run out";
}

}  // namespace
}  // namespace clinical
