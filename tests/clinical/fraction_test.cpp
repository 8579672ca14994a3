// What is left of a drug. Arithmetic only: the half-lives keep the grade of their sources.
#include "clinical/fraction.h"

#include <boost/numeric/odeint.hpp>

#include <cmath>
#include <random>

#include "clinical/half_life.h"
#include "gate_support.h"

namespace clinical {
namespace {

double left(double after_minutes, double half_life) {
  return fraction_left(seconds{std::llround(after_minutes * 60)}, seconds{std::llround(half_life * 60)});
}
double hours_(double h) { return 60 * h; }

// Tolerance: the last digit as worked out by hand.
TEST(FractionLeft, WorkedExamples) {
  const struct {
    const char* source;
    double minutes, half_life, fraction, tolerance;
  } rows[] = {
      {"bivalirudin 57 min (US label 12.3, clearance 10-29), 2 h after the stop", 120, 57, 0.2324, 5e-5},
      {"bivalirudin 25 min (US label 12.3, normal)", 120, 25, 0.0359, 5e-5},
      {"bivalirudin 34 min (US label 12.3, clearance 30-59)", 120, 34, 0.0866, 5e-5},
      {"bivalirudin 210 min (US label 12.3, dialysis)", 120, 210, 0.673, 5e-4},
      {"bivalirudin 57 min: 5 % left", 246.3, 57, 0.05, 5e-5},
      {"enoxaparin intravenously, 0.56 -> 0.14 IU/mL in 350 min (PMID 16446514): 2.92 h; 0.217 / 0.56 at 4 h", hours_(4), 175, 0.217 / 0.56, 1e-3},
      {"enoxaparin 7 h (EU product information 5.2), 0.984 / 1.2 two hours after the peak", hours_(2), hours_(7), 0.984 / 1.2, 5e-4},
      {"enoxaparin 7 h, 0.808 / 1.2 four hours after the peak", hours_(4), hours_(7), 0.808 / 1.2, 5e-4},
      {"eptifibatide 5 h (derived from US label 12.3, clearance 40), 4 h", hours_(4), hours_(5), 0.574, 5e-4},
      {"eptifibatide 5 h, 8 h", hours_(8), hours_(5), 0.330, 5e-4},
      {"eptifibatide 2.5 h (US label 12.3), 4 h", hours_(4), hours_(2.5), 0.330, 5e-4},
      {"eptifibatide 2.5 h, 8 h", hours_(8), hours_(2.5), 0.109, 5e-4},
      {"tirofiban 2 h (US label 12.3), 4 h", hours_(4), hours_(2), 0.250, 5e-4},
      {"tirofiban 3.33 h (derived, clearance < 60), 4 h", hours_(4), 200, 0.435, 5e-4},
      {"tirofiban 4 h (derived, clearance < 30), 4 h", hours_(4), hours_(4), 0.500, 5e-4},
      {"argatroban 51 min (US label, from memory), 2 h", 120, 51, 0.196, 5e-4},
      {"argatroban 181 min (liver, US label, from memory), 2 h", 120, 181, 0.632, 5e-4},
      {"argatroban 181 min, 425.9 min", 425.9, 181, 0.196, 5e-4},
      {"dabigatran 18 h (J Am Board Fam Med table 2A, clearance 30-49), 96 h", hours_(96), hours_(18), 0.0248, 5e-5},
      {"dabigatran 18 h, 48 h", hours_(48), hours_(18), 0.1575, 5e-5},
      {"dabigatran 27 h (clearance 15-29), 120 h", hours_(120), hours_(27), 0.0459, 5e-5},
      {"dabigatran 13 h (clearance > 80), 48 h", hours_(48), hours_(13), 0.0774, 5e-5},
      {"dabigatran 13 h, 24 h", hours_(24), hours_(13), 0.278, 5e-4},
      {"fondaparinux 35 h (derived, clearance 30-50), 72 h", hours_(72), hours_(35), 0.240, 5e-4},
      {"fondaparinux 35 h, 120 h", hours_(120), hours_(35), 0.093, 5e-4},
      {"fondaparinux 28 h (derived, clearance 50-80), 48 h", hours_(48), hours_(28), 0.305, 5e-4},
      {"fondaparinux 21 h (US label 12.3), 72 h", hours_(72), hours_(21), 0.093, 5e-4},
      {"rivaroxaban 13 h (elderly, PMC11636576), 48 h", hours_(48), hours_(13), 0.077, 5e-4},
      {"cangrelor 6 min (US label 12.3), 1 h", 60, 6, 0.00098, 5e-6},
      {"heparin 60 min (100 U/kg, ACCP), 8000 U after 90 min: 2828 U", 90, 60, 2828.0 / 8000, 1e-4},
      {"heparin 30 min (protamine US label), 90 min: 1000 U", 90, 30, 1000.0 / 8000, 5e-5},
      {"heparin 90 min, 90 min: 4000 U", 90, 90, 4000.0 / 8000, 5e-5},
  };
  for (const auto& row : rows) EXPECT_NEAR(left(row.minutes, row.half_life), row.fraction, row.tolerance) << row.source;
}

// Enoxaparin 40 mg twelve-hourly: peak 1.2 at 4 h, trough 0.52 at 12 h (EU product information 5.2): 8 x ln 2 / ln(1.2 / 0.52) = 6.63 h.
TEST(FractionLeft, HalfLifeFromPeakAndTrough) { EXPECT_NEAR(left(hours_(8), hours_(6.63)), 0.52 / 1.2, 5e-4); }

/// dA/dt = input(t) - k A, by a general adaptive solver (Boost.Numeric.Odeint, Dormand-Prince): the oracle.
double solved(const std::vector<Input>& inputs, double half_life_s, Instant from, Instant at) {
  const double k = std::log(2.0) / half_life_s;
  double amount = 0;
  std::vector<Instant> corners{from, at};
  for (const auto& in : inputs) corners.push_back(in.start), corners.push_back(in.end);
  std::sort(corners.begin(), corners.end());
  for (std::size_t i = 0; i < corners.size() && corners[i] <= at; ++i) {
    if (i > 0 && (i == 1 || corners[i] != corners[i - 1])) {
      double rate = 0;
      for (const auto& in : inputs)
        if (in.start < in.end && in.start <= corners[i - 1] && corners[i] <= in.end) rate += in.amount / static_cast<double>((in.end - in.start).count());
      std::vector<double> state{amount};
      const auto fall = [&](const std::vector<double>& x, std::vector<double>& dx, double) { dx[0] = rate - k * x[0]; };
      namespace ode = boost::numeric::odeint;
      ode::integrate_adaptive(ode::make_controlled<ode::runge_kutta_dopri5<std::vector<double>>>(1e-10, 1e-10), fall, state, 0.0,
                              static_cast<double>((corners[i] - corners[i - 1]).count()), 1.0);
      amount = state[0];
    }
    if (i == 0 || corners[i] != corners[i - 1])
      for (const auto& in : inputs)
        if (in.start == in.end && in.start == corners[i]) amount += in.amount;
  }
  return amount;
}

TEST(AmountAt, SuperpositionAgreesWithANumericalSolver) {
  std::mt19937 random(20260302);
  const auto between = [&](int low, int high) { return std::uniform_int_distribution(low, high)(random); };
  for (int round = 0; round < 40; ++round) {
    std::vector<Input> inputs;
    for (int i = between(1, 4); i > 0; --i) {
      const Instant start = hm(12, between(0, 120));
      inputs.push_back({start, between(0, 1) ? start : start + minutes{between(1, 180)}, static_cast<double>(between(100, 9000))});
    }
    const double half_life = 60.0 * between(6, 400);
    const Instant at = hm(12, between(0, 500));
    const double exact = amount_at(inputs, seconds{std::llround(half_life)}, at);
    EXPECT_NEAR(exact, solved(inputs, half_life, hm(12), at), 1e-6 * (1 + exact)) << "round " << round;
  }
}

TEST(AmountAt, KnownShapes) {
  const seconds hour{3600};
  EXPECT_DOUBLE_EQ(amount_at({{hm(12), hm(12), 100}}, hour, hm(12)), 100);
  EXPECT_DOUBLE_EQ(amount_at({{hm(12), hm(12), 100}}, hour, hm(13)), 50);
  EXPECT_DOUBLE_EQ(amount_at({{hm(12), hm(12), 100}}, hour, hm(11)), 0);
  // A long infusion at 100/h comes to rate / k = 100 / ln 2.
  EXPECT_NEAR(amount_at({{hm(0), hm(100), 10000}}, hour, hm(100)), 100 / std::log(2.0), 1e-9);
}

TEST(HeparinHalfLife, ByDose) {  // 25 / 100 / 400 U/kg: about 30 / 60 / 150 min (ACCP parenteral anticoagulants, secondary copies)
  for (const auto& [dose, minutes_] : {std::pair(10.0, 30.0), {25.0, 30.0}, {100.0, 60.0}, {400.0, 150.0}, {500.0, 150.0}, {70.0, 48.0}})
    EXPECT_DOUBLE_EQ(heparin_half_life(cautious(), dose), minutes_) << dose;
}

const AgentRow* row_of(const std::vector<AgentRow>& rows, Agent agent) {
  for (const auto& row : rows)
    if (row.agent == agent) return &row;
  return nullptr;
}

TEST(AgentsAt, HeparinByDoseAndWeight) {
  Bedside bed = bare();
  bed.lab(Analyte::weight, 80, hm(8));
  bed.bolus(Agent::heparin, hm(12), 8000);  // 100 U/kg
  const auto rows = agents_at(bed.facts, cautious(), Clock(hm(13, 30)));
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].half_life, minutes{60});
  EXPECT_NEAR(*rows[0].fraction_left, std::exp2(-1.5), 1e-12);
  EXPECT_EQ(rows[0].last_given, hm(12));
  EXPECT_EQ(rows[0].total->micro, whole(8000));
  EXPECT_EQ(rows[0].total_per_kg->written, "100 U/kg");
}

TEST(AgentsAt, SaysNothingThatIsNotKnown) {
  Bedside bed = bare();
  bed.bolus(Agent::heparin, hm(12), 8000);                   // no weight
  bed.infusion(Agent::bivalirudin, hm(12), {});              // running, clearance unknown
  bed.bolus(Agent::heparin, hm(12, 1), 500).flush = true;    // flush
  bed.bolus(Agent::apixaban, hm(8));
  const auto rows = agents_at(bed.facts, cautious(), Clock(hm(14)));
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_FALSE(rows[0].half_life || rows[0].fraction_left || rows[0].total_per_kg);
  EXPECT_EQ(rows[0].total->written, "8000 U");
  const auto* running = row_of(rows, Agent::bivalirudin);
  EXPECT_TRUE(running->running);
  EXPECT_FALSE(running->last_given || running->fraction_left || running->half_life);
  EXPECT_FALSE(row_of(rows, Agent::apixaban)->half_life);
}

TEST(AgentsAt, BivalirudinByKidneys) {
  Bedside bed = ready();
  bed.infusion(Agent::bivalirudin, hm(11), hm(12));
  bed.lab(Analyte::creatinine, 3.2, hm(9));  // 75 x 77 / (72 x 3.2) = 25 mL/min
  std::erase_if(bed.facts.measurements, [](const Measurement& m) { return m.analyte == Analyte::creatinine && m.value->micro == whole(1); });
  const auto rows = agents_at(bed.facts, cautious(), Clock(hm(14)));
  EXPECT_EQ(row_of(rows, Agent::bivalirudin)->half_life, minutes{57});
  EXPECT_NEAR(*row_of(rows, Agent::bivalirudin)->fraction_left, 0.2324, 5e-5);
}

}  // namespace
}  // namespace clinical
